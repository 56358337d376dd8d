#include "counterspot/sheet/verify.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <iterator>
#include <nlohmann/json.hpp>

#include "counterspot/log/seal.hpp"
#include "counterspot/sheet/sheet.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

using Values = nlohmann::json;  // whose objects are equal in any order

/// The sheet as it was after so many entries.
Sheet sheet_after(const Job& job, const std::vector<LogLink>& links, std::size_t entries, UnitSystem units) {
  Job then = job;
  then.events.resize(entries);
  then.seal = seal_of(then);
  Sheet sheet = sheet_of(then, units);
  if (entries < links.size()) sheet.link = links[entries];
  return sheet;
}

std::vector<std::string> differences(const Values& said, const Values& kept) {
  std::vector<std::string> faults;
  for (const Values& each : Values::diff(kept, said)) {
    const Values::json_pointer where(each.at("path").get<std::string>());
    const auto value_in = [&](const Values& document) {
      return document.contains(where) ? document.at(where).dump(-1, ' ', false, Values::error_handler_t::replace)
                                      : std::string("nothing");
    };
    faults.push_back(
        fmt::format("at {} the sheet says {}, and the log {}", where.to_string(), value_in(said), value_in(kept)));
  }
  return faults;
}

Verified verified(const Job& job, const std::vector<LogLink>& links, std::string_view code) {
  Verified found{job.name, static_cast<int>(job.events.size()), seal_of(job), {}, {}};
  if (job.seal.empty()) {
    found.faults.emplace_back("it has no seal, for an earlier version exported it: nothing can be said of it");
  } else if (job.seal != found.seal) {
    found.faults.emplace_back("its entries are not those that were sealed: something was changed later");
  }
  if (!code.empty()) found.entry_of_code = entry_of_code(job, links, code);
  return found;
}

constexpr const char* no_such_code = "no entry has this code: the record was changed, or it is another job's";

}  // namespace

Verified verified_job(const std::string& name, const Log& log, std::string_view code) {
  const Job job = log.job(name);
  Verified found = verified(job, log.links_of(job), code);
  if (!code.empty() && !found.entry_of_code) found.faults.emplace_back(no_such_code);
  return found;
}

std::vector<Verified> verified_export(const std::string& text, std::string_view code) {
  std::vector<Verified> all;
  for (const Job& job : exported_in(text).jobs) all.push_back(verified(job, {}, code));
  if (all.empty()) {
    throw Error(Trouble::request, "nothing_to_verify", "there is no job in this export",
                "name a file that 'log export' wrote jobs into");
  }
  if (code.empty()) return all;
  std::vector<Verified> with_code;
  std::copy_if(all.begin(), all.end(), std::back_inserter(with_code),
               [](const Verified& each) { return each.entry_of_code.has_value(); });
  if (with_code.empty()) with_code.push_back({"", 0, "", {}, {no_such_code}});
  return with_code;
}

bool is_sheet_json(std::string_view text) {
  const Values json = Values::parse(text, nullptr, false);
  return json.is_object() && json.contains("seal") && json.contains("places") && json.contains("job");
}

Verified verified_sheet(const std::string& text, const Log& log) {
  const Values said = Values::parse(text, nullptr, false);
  if (!is_sheet_json(text) || !said["job"].is_string() || !said.value("entries", Values()).is_number_integer()) {
    throw Error(Trouble::request, "bad_sheet", "this is not a sheet of a job that is in a log",
                "name what 'sheet JOB --json' wrote, unchanged");
  }
  const Job job = log.job(said["job"].get<std::string>());
  const std::vector<LogLink> links = log.links_of(job);
  Verified found{job.name, static_cast<int>(job.events.size()), job.seal, {}, {}};
  const auto entries = said["entries"].get<std::int64_t>();
  if (entries < 0 || entries > found.entries) {
    found.faults.push_back(
        fmt::format("the sheet tells of {} entries, and the log has {}: some are gone", entries, found.entries));
    return found;
  }
  found.entry_of_code = static_cast<int>(entries);
  for (const UnitSystem units : {UnitSystem::metric, UnitSystem::inch}) {
    const Sheet sheet = sheet_after(job, links, static_cast<std::size_t>(entries), units);
    found.faults = differences(said, Values::parse(sheet_json(sheet)));
    if (found.faults.empty()) break;
  }
  return found;
}

}  // namespace counterspot
