#include "counterspot/guide/rig_teaching.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "counterspot/log/rig_log.hpp"
#include "counterspot/units/error.hpp"
#include "log/rig_model_json.hpp"
#include "log/sha256.hpp"

namespace counterspot {

namespace {

constexpr std::size_t jobs_looked_at = 60;  // of the newest, to find those that taught something
constexpr int jobs_of_family = 60;

std::string text_of(const std::optional<KnownSize>& known) {
  return known ? fmt::format("{} {}", known->value, known->u) : "-";
}

/// Without the job in work, and then the newest.
template <typename Each>
std::vector<Each> others(std::vector<Each> newest_first, const std::string& except) {
  std::erase_if(newest_first, [&](const Each& each) { return each.uid == except; });
  if (newest_first.size() > jobs_looked_at) newest_first.resize(jobs_looked_at);
  return newest_first;
}

std::vector<JobStamp> stamps_of(const std::vector<Job>& jobs) {
  std::vector<JobStamp> stamps;
  for (const Job& job : jobs) stamps.push_back({job.uid, job.name, static_cast<int>(job.events.size())});
  return stamps;
}

/// All that decides what is learnt. A job's entries are only ever added, so that their number stands for them.
std::string learnt_from(const std::vector<JobStamp>& jobs, const std::vector<RigWork>& qualifications, const Rig& rig,
                        const std::vector<Motion>& motions) {
  std::string text = fmt::format("{}\n", rig_learning_version);
  for (const Sensor& sensor : rig.sensors) text += fmt::format("sensor {}\n", sensor.name);
  for (const Motion motion : motions) text += fmt::format("{}\n", motion_name(motion));
  for (const KnownPedestal& each : rig.pedestals)
    text += fmt::format("pedestal {}, {}\n", text_of(each.moving_mass_kg), text_of(each.natural_frequency_Hz));
  for (const JobStamp& each : jobs) text += fmt::format("job {} {}\n", each.uid, each.entries);
  for (const RigWork& each : qualifications) text += fmt::format("work {} {}\n", each.uid, each.events.size());
  Sha256 hash;
  hash.add(text);
  return hash.text();
}

std::optional<RigModel> kept_model(const Log& log, const std::string& rig, const std::string& from) {
  const auto state = log.learnt(rig, from);
  if (!state) return std::nullopt;
  try {
    return rig_model_of_json(*state);
  } catch (const Error&) {  // it is learnt anew
    return std::nullopt;
  }
}

/// What cannot be kept is learnt anew the next time; that is no reason to give no answer now.
void keep_if_possible(const Log& log, const std::string& rig, const std::string& from, const RigModel& model) {
  try {
    log.keep_learnt(rig, from, rig_model_to_json(model));
  } catch (const Error& error) {
    if (error.trouble() != Trouble::machine) throw;
  }
}

}  // namespace

std::optional<RigModel> learnt_rig(const Log& log, const Rig& rig, const std::vector<Motion>& motions,
                                   const std::string& except) {
  if (!has_rig_model(rig) || motions.size() != 2) return std::nullopt;
  const std::vector<JobStamp> stamps =
      others(log.stamps_to_learn_from(rig.name, static_cast<int>(jobs_looked_at) + 1), except);
  std::vector<RigWork> qualifications = rig_works(log, rig.name, RigTask::qualification);
  std::erase_if(qualifications, [](const RigWork& each) { return !yardstick_of(each); });
  if (stamps.empty() && qualifications.empty()) return std::nullopt;
  if (auto kept = kept_model(log, rig.name, learnt_from(stamps, qualifications, rig, motions))) return kept;
  const auto jobs = others(log.jobs_to_learn_from(rig.name, 0, static_cast<int>(jobs_looked_at) + 1), except);
  RigTeachers teachers{spins_of(jobs), {}};
  for (const RigWork& each : qualifications) teachers.qualifications.push_back(*reference_shaft_of(each));
  auto model = taught_by(teachers, rig, motions);
  // From these jobs: another program may have written meanwhile.
  const std::string from = learnt_from(stamps_of(jobs), qualifications, rig, motions);
  if (model) keep_if_possible(log, rig.name, from, *model);
  return model;
}

RigShown shown_rig(const Log& log, const Rig& rig) {
  std::vector<Motion> motions;
  for (const Sensor& sensor : rig.sensors) motions.push_back(sensor.sensitivity.motion);
  auto model = learnt_rig(log, rig, motions);
  if (!model) {
    throw Error(Trouble::request, "nothing_learnt",
                fmt::format("nothing has taught this program anything of rig {} yet", rig.name),
                "it needs one sensor at each of two supports, A before B, and a job of two spins with other weights, "
                "whose shaft file says mass, tube and supports");
  }
  RigShown shown{rig.name, {rig.sensors[0].name, rig.sensors[1].name}, std::move(*model), {}, {}};
  std::map<std::string, std::string> names;
  for (const JobStamp& each : log.stamps_to_learn_from(rig.name, static_cast<int>(jobs_looked_at)))
    names[each.uid] = each.name;
  for (const RigLesson& lesson : shown.model.lessons)
    shown.teachers.push_back(names.contains(lesson.job) ? names.at(lesson.job) : qualification_teacher);
  shown.condition = condition_of(shown.model);
  return shown;
}

Rig newest_rig(const Log& log, const std::string& name) {
  LogFilter filter;
  filter.rig = name;
  const auto jobs = log.list(filter);
  if (!jobs.empty()) return log.job(jobs.front().name).rig();
  if (const auto work = newest_rig_work(log, name)) return work->rig();
  throw Error(Trouble::request, "no_such_rig",
              name.empty() ? "the log knows no rig" : fmt::format("the log knows no rig '{}'", name),
              "'log list' shows the jobs with their rigs; name one with --rig-name");
}

std::vector<ShaftSpins> JobsInLog::of_shafts_like(const ShaftSpins& job, double unlike_at_most) const {
  const Shaft& shaft = job.shaft();
  auto jobs = log_.jobs_to_learn_from(job.rig().name, static_cast<int>(shaft.planes.size()), jobs_of_family + 1,
                                      [&](const Shaft& each) { return unlikeness(each, shaft) <= unlike_at_most; });
  std::erase_if(jobs, [&](const Job& each) { return each.uid == job.uid; });
  return spins_of(jobs);
}

std::optional<RigModel> JobsInLog::rig_model(const ShaftSpins& job, const std::vector<Motion>& motions) const {
  return learnt_rig(log_, job.rig(), motions, job.uid);
}

}  // namespace counterspot
