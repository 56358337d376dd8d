#include "counterspot/sheet/verify.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <nlohmann/json.hpp>
#include <utility>

#include "counterspot/log/seal.hpp"
#include "counterspot/log/signature.hpp"
#include "counterspot/sheet/sheet.hpp"
#include "counterspot/units/error.hpp"
#include "units/one_line.hpp"

namespace counterspot {

namespace {

using Values = nlohmann::json;  // whose objects are equal in any order

/// What stands on a sheet and in no export of its job.
const std::vector<std::string> known_to_log_alone = {"link", "qualification"};

/// What a form of the sheet's JSON has and none before it had. A sheet must have all or none of it, so that nothing can
/// be taken off a sheet and called old.
struct AddedKeys {
  int form;
  std::vector<std::string> keys;
  std::vector<std::string> keys_of_places;
};
const std::vector<AddedKeys>& added_keys() {
  static const std::vector<AddedKeys> added{
      {2,
       {"order", "rotation", "qualification", "permissible_total_gmm", "trial_weights"},
       {"u_as_found_gmm", "as_found_angle_deg", "residual_angle_deg"}},
      {3, {"signatures"}, {}},
      {sheet_form, {"form"}, {}}};
  return added;
}

bool has_any(const Values& said, const AddedKeys& added) {
  const auto in = [](const Values& values) {
    return [&values](const std::string& key) { return values.contains(key); };
  };
  if (std::ranges::any_of(added.keys, in(said))) return true;
  return std::ranges::any_of(said["places"],
                             [&](const Values& place) { return std::ranges::any_of(added.keys_of_places, in(place)); });
}

/// The last form of which it has anything; 1: a sheet as the first that had seals.
int form_of(const Values& said) {
  int form = 1;
  for (const AddedKeys& added : added_keys())
    if (has_any(said, added)) form = added.form;
  return form;
}

void take_later_keys_off(Values& values, int form) {
  for (const AddedKeys& added : added_keys()) {
    if (added.form <= form) continue;
    for (const std::string& key : added.keys) values.erase(key);
    for (Values& place : values["places"])
      for (const std::string& key : added.keys_of_places) place.erase(key);
  }
}

/// The sheet's values as they were after so many entries. @param log none: those that it alone knows are left out.
Values values_after(const Log* log, const Job& job, std::size_t entries, UnitSystem units) {
  Job then = job;
  then.events.resize(entries);
  then.seal = seal_of(then);
  Sheet sheet = sheet_of(then, units);
  if (log == nullptr) {
    Values values = Values::parse(sheet_json(sheet));
    for (const std::string& key : known_to_log_alone) values.erase(key);
    return values;
  }
  const std::vector<LogLink> links = log->links_of(job);
  if (entries < links.size()) sheet.link = links[entries];
  sheet.qualification = qualification_before(*log, sheet.rig.name, sheet.date_unix_s);
  return Values::parse(sheet_json(sheet));
}

/// Numbers that are worked out anew, by another build perhaps, end otherwise in their last digits; nobody forges those.
bool as_good_as_equal(const Values& a, const Values& b) {
  constexpr double last_digits = 1e-9;
  if (!a.is_number() || !b.is_number()) return false;
  const auto [x, y] = std::pair{a.get<double>(), b.get<double>()};
  return std::abs(x - y) <= last_digits * std::max(std::abs(x), std::abs(y));
}

std::vector<std::string> differences(const Values& said, const Values& kept) {
  std::vector<std::string> faults;
  for (const Values& each : Values::diff(kept, said)) {
    const Values::json_pointer where(each.at("path").get<std::string>());
    const auto value_in = [&](const Values& document) {
      return document.contains(where) ? one_line(document.at(where)) : std::string("nothing");
    };
    if (said.contains(where) && kept.contains(where) && as_good_as_equal(said.at(where), kept.at(where))) continue;
    faults.push_back(
        fmt::format("at {} the sheet says {}, and the record {}", where.to_string(), value_in(said), value_in(kept)));
  }
  return faults;
}

constexpr const char* no_such_code = "no entry has this code: the record was changed, or it is another job's";

Verified in_whole_file(std::vector<std::string> faults) {
  return {"", 0, "", {}, {}, std::move(faults), {}, {}};
}

Verified record_of(const Job& job) {
  Verified found{job.name, static_cast<int>(job.events.size()), seal_of(job), {}, {}, {}, {}, {}};
  for (const int number : state_of(job.events).signatures)
    found.signatures.push_back(job.events[static_cast<std::size_t>(number - 1)]);
  if (job.seal.empty()) {
    found.faults.emplace_back("it has no seal, for an earlier version exported it: nothing can be said of it");
  } else if (job.seal != found.seal) {
    found.faults.emplace_back("its entries are not those that were sealed: something was changed later");
  }
  for (std::string& fault : faults_of_signatures(job)) found.faults.push_back(std::move(fault));
  return found;
}

void demand_signature(Verified& found, const DemandedProof& expected) {
  if (expected.public_key.empty() || !expected.file_signature.empty()) return;
  const bool there = std::any_of(found.signatures.begin(), found.signatures.end(), [&](const Event& event) {
    return std::get<Signed>(event.what).public_key == expected.public_key;
  });
  if (!there)
    found.faults.push_back(fmt::format("nobody signed it as it is with the key {}", key_code(expected.public_key)));
}

Verified verified(const Job& job, const std::vector<LogLink>& links, const DemandedProof& expected) {
  Verified found = record_of(job);
  demand_signature(found, expected);
  if (!expected.code.empty()) found.entry_of_code = entry_of_code(job, links, expected.code);
  return found;
}

/// The sheet's values, with those that are needed to know what to hold them against.
Values values_of_sheet(const std::string& text) {
  const Values said = Values::parse(text, nullptr, false);
  if (is_sheet_json(text) && said["job"].is_string() && said.value("entries", Values()).is_number_integer()) {
    const Values form = said.value("form", Values());
    if (!form.is_number_integer() || form.get<std::int64_t>() <= sheet_form) return said;
    throw Error(Trouble::request, "bad_sheet",
                "this sheet is of a later program, and has keys that this one does not know",
                "verify it with the program that wrote it, or a newer one");
  }
  throw Error(Trouble::request, "bad_sheet", "this is not a sheet of a job that is in a log",
              "name what 'sheet JOB --json' wrote, unchanged");
}

/// @param log none: the job is of an export.
Verified verified_values(Values said, const Job& job, const Log* log, const DemandedProof& expected) {
  Verified found = record_of(job);
  demand_signature(found, expected);
  const auto entries = said["entries"].get<std::int64_t>();
  if (entries < 0 || entries > found.entries) {
    found.faults.push_back(
        fmt::format("the sheet tells of {} entries, and the record has {}: some are gone", entries, found.entries));
    return found;
  }
  found.entry_of_code = static_cast<int>(entries);
  if (log == nullptr) {
    found.not_compared = known_to_log_alone;
    for (const std::string& key : found.not_compared) said.erase(key);
  }
  const int form = form_of(said);
  if (form < sheet_form) found.sheet_form = form;
  std::vector<std::string> different;
  for (const UnitSystem units : {UnitSystem::metric, UnitSystem::inch}) {
    Values kept = values_after(log, job, static_cast<std::size_t>(entries), units);
    take_later_keys_off(kept, form);
    different = differences(said, kept);
    if (different.empty()) break;
  }
  std::move(different.begin(), different.end(), std::back_inserter(found.faults));
  return found;
}

}  // namespace

Verified verified_job(const std::string& name, const Log& log, const DemandedProof& expected) {
  const Job job = log.job(name);
  Verified found = verified(job, log.links_of(job), expected);
  if (!expected.code.empty() && !found.entry_of_code) found.faults.emplace_back(no_such_code);
  return found;
}

std::vector<Verified> verified_export(const std::string& text, const DemandedProof& expected) {
  std::vector<Verified> all;
  if (!expected.file_signature.empty()) {
    if (expected.public_key.empty()) {
      throw Error(Trouble::request, "no_key", "it is not said whose signature it is",
                  "name the public key of who signed it: --signed-by FILE.pub");
    }
    if (!is_signature(expected.file_signature, text, expected.public_key))
      return {
          in_whole_file({fmt::format("this is not the file that was signed with the key {}: it was changed, or "
                                     "somebody else signed it",
                                     key_code(expected.public_key))})};
    all.push_back(in_whole_file({}));
  }
  const std::vector<Job> jobs = exported_in(text).jobs;
  for (const Job& job : jobs) {
    Verified found = verified(job, {}, expected);
    if (expected.code.empty() || found.entry_of_code) all.push_back(std::move(found));
  }
  if (jobs.empty()) {
    throw Error(Trouble::request, "nothing_to_verify", "there is no job in this export",
                "name a file that 'log export' wrote jobs into");
  }
  if (all.empty() || all.back().job.empty()) all.push_back(in_whole_file({no_such_code}));
  return all;
}

bool is_sheet_json(std::string_view text) {
  const Values json = Values::parse(text, nullptr, false);
  return json.is_object() && json.contains("seal") && json.contains("places") && json.contains("job");
}

Verified verified_sheet(const std::string& text, const Log& log, const DemandedProof& expected) {
  const Values said = values_of_sheet(text);
  const Job job = log.job(said["job"].get<std::string>());
  return verified_values(said, job, &log, expected);
}

Verified verified_sheet(const std::string& text, const Exported& exported, const DemandedProof& expected) {
  const Values said = values_of_sheet(text);
  const auto name = said["job"].get<std::string>();
  for (const Job& job : exported.jobs)
    if (job.name == name) return verified_values(said, job, nullptr, expected);
  throw Error(Trouble::request, "no_such_job", fmt::format("the export has no job {}, of which this sheet is", name),
              "name an export that has it");
}

}  // namespace counterspot
