#include "counterspot/log/rig_log.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "counterspot/units/error.hpp"
#include "log/database.hpp"
#include "log/rig_work_json.hpp"

namespace counterspot {

namespace {

constexpr std::array all_tasks = {RigTask::qualification, RigTask::check, RigTask::recalibration};

/// Works by their openings, oldest first; entries by their numbers, whatever the clock said.
std::vector<RigWork> works_of(const std::vector<RigRecord>& records) {
  std::vector<RigWork> works;
  std::vector<RigEntry> entries;
  for (const RigRecord& record : records) {
    entries.push_back(entry_of(record));
    if (entries.back().number == 0) works.push_back(entries.back().opened);
  }
  std::stable_sort(entries.begin(), entries.end(),
                   [](const RigEntry& one, const RigEntry& other) { return one.number < other.number; });
  for (RigEntry& entry : entries) {
    const auto of =
        std::find_if(works.begin(), works.end(), [&](const RigWork& work) { return work.uid == entry.work; });
    const bool follows =
        of != works.end() && (entry.number == 0 || entry.number == static_cast<int>(of->events.size()) + 1);
    if (!follows) {
      throw Error(Trouble::request, "bad_record",
                  fmt::format("entry {} of a work on a rig does not follow the one before it", entry.number),
                  "run 'log check', and restore the last backup");
    }
    if (entry.number > 0) of->events.push_back(std::move(entry.event));
  }
  return works;
}

RigRecord record_of(const RigWork& work, const RigEvent& event) {
  return {work.rig().name, std::string(rig_task_name(work.task)), event.at_unix_s, event.program,
          details_of_entry(work, event)};
}

std::size_t count_of(const Log& log, const std::string& rig, RigTask task) {
  return log.rig_records(rig, std::string(rig_task_name(task))).size();
}

void refuse_second_open_work(const Log& log, const std::string& rig) {
  const auto newest = newest_rig_work(log, rig);
  if (!newest || !state_of(*newest).open) return;
  throw Error(Trouble::request, "rig_work_open",
              fmt::format("the {} of rig {} is not ended", rig_task_name(newest->task), rig),
              "go on with it ('rig next'), or end it with a reason ('rig close \"…\"')");
}

}  // namespace

RigWork open_rig_work(Log& log, RigTask task, const Opening& opening) {
  RigWork work;
  work.uid = new_uid();
  work.task = task;
  work.opened_unix_s = opening.at_unix_s;
  work.program = opening.program;
  work.rig_file = {opening.rig_file, opening.rig_text};
  work.shaft_file = {opening.shaft_file, opening.shaft_text};
  const std::string rig = work.rig().name;
  const Shaft shaft = work.shaft();
  admit_beginning(task, work.rig(), shaft);
  const std::size_t seen = count_of(log, rig, task);
  refuse_second_open_work(log, rig);
  work.yardstick = last_yardstick(log, rig, shaft.id);
  if (task != RigTask::qualification && !work.yardstick) {
    throw Error(Trouble::request, "no_yardstick",
                fmt::format("rig {} was never qualified with the reference shaft {}", rig, shaft.id),
                "qualify it first: 'rig qualify'");
  }
  log.keep_after(seen,
                 {{rig, std::string(rig_task_name(task)), work.opened_unix_s, work.program, details_of_opening(work)}});
  return work;
}

RigWork append(Log& log, const RigWork& seen, const std::vector<RigWhat>& whats, const std::string& program,
               std::int64_t at_unix_s) {
  const std::string rig = seen.rig().name;
  const auto present = log.rig_records(rig, std::string(rig_task_name(seen.task)));
  RigWork work = seen;
  for (const RigWork& each : works_of(present)) {
    if (each.uid != seen.uid || each.events.size() == seen.events.size()) continue;
    throw Error(Trouble::request, "rig_moved_on",
                fmt::format("someone else wrote to the {} of rig {} meanwhile", rig_task_name(seen.task), rig),
                "look at 'rig show' and enter it again");
  }
  std::vector<RigRecord> records;
  for (const RigWhat& what : whats) {
    admit(work, what);
    work.events.push_back({static_cast<int>(work.events.size()) + 1, at_unix_s, program, what});
    records.push_back(record_of(work, work.events.back()));
  }
  log.keep_after(present.size(), records);
  return work;
}

std::vector<RigWork> rig_works(const Log& log, const std::string& rig, RigTask task) {
  return works_of(log.rig_records(rig, std::string(rig_task_name(task))));
}

std::optional<RigWork> newest_rig_work(const Log& log, const std::string& rig) {
  // All tasks together, as they were kept: of two that were opened within a second, the later one is the newest.
  std::vector<RigRecord> records = log.rig_records(rig, "");
  std::erase_if(records, [](const RigRecord& record) {
    return std::ranges::find(all_tasks, record.kind, rig_task_name) == all_tasks.end();
  });
  const std::vector<RigWork> works = works_of(records);
  return works.empty() ? std::nullopt : std::optional(works.back());
}

std::optional<RigYardstick> last_yardstick(const Log& log, const std::string& rig, const std::string& shaft) {
  auto works = rig_works(log, rig, RigTask::qualification);
  std::reverse(works.begin(), works.end());
  for (const RigWork& work : works) {
    if (!shaft.empty() && work.shaft().id != shaft) continue;
    if (auto yardstick = yardstick_of(work)) return yardstick;
  }
  return std::nullopt;
}

std::vector<std::string> faults_of_rig_works(const Log& log) {
  std::vector<std::string> faults;
  for (RigTask task : all_tasks) {
    try {
      for (const RigWork& work : rig_works(log, "", task)) state_of(work);
    } catch (const Error& error) {
      faults.emplace_back(error.what());
    }
  }
  return faults;
}

}  // namespace counterspot
