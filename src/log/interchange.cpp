#include <fmt/format.h>

#include "counterspot/log/log.hpp"
#include "counterspot/units/error.hpp"
#include "counterspot/units/units.hpp"
#include "log/csv.hpp"
#include "log/fields_json.hpp"

namespace counterspot {

namespace {

using Json = LogJson;

constexpr int interchange_version = 1;
constexpr const char* interchange_format = "counterspot job";
constexpr const char* rig_record_format = "counterspot rig record";
constexpr const char* rig_record_kind = "rig record";  // in a table

Error bad_line(const std::string& trouble) {
  return {Trouble::request, "bad_log_line", fmt::format("this is not a job as a log exports it: {}", trouble),
          "import what 'log export' wrote, unchanged"};
}

What what_of_json(const std::string& kind, const Json& json) {
  if (kind == "spin") return kept_in<Spun>(json);
  if (kind == "fit") return kept_in<Fitted>(json);
  if (kind == "take back") return kept_in<TakenBack>(json);
  if (kind == "close") return kept_in<Closed>(json);
  throw bad_line("'" + kind + "' is not a kind of entry");
}

Json json_of(const Event& event) {
  return {{"number", event.number},
          {"kind", kind_of(event.what)},
          {"at", utc_text(event.at_unix_s)},
          {"program", event.program},
          {"details", std::visit([](const auto& what) { return kept_json(what); }, event.what)}};
}

Event event_of_json(const Json& json) {
  return {json.at("number").get<int>(), unix_time_of(json.at("at").get<std::string>()),
          json.at("program").get<std::string>(), what_of_json(json.at("kind").get<std::string>(), json.at("details"))};
}

Json head_of(const Job& job) {
  return {{"format", interchange_format},
          {"version", interchange_version},
          {"uid", job.uid},
          {"job", job.name},
          {"shaft", job.shaft().id},
          {"rig", job.rig().name},
          {"opened", utc_text(job.opened_unix_s)},
          {"program", job.program},
          {"rig_file", job.rig_file.path()},
          {"rig_definition", job.rig_file.text()},
          {"shaft_file", job.shaft_file.path()},
          {"shaft_definition", job.shaft_file.text()}};
}

Job job_of_head(const Json& json) {
  if (json.at("format") != interchange_format) throw bad_line("it is not of this format");
  if (json.at("version").get<int>() > interchange_version) throw bad_line("a later program wrote it");
  return {json.at("uid").get<std::string>(),
          json.at("job").get<std::string>(),
          unix_time_of(json.at("opened").get<std::string>()),
          json.at("program").get<std::string>(),
          {json.at("rig_file").get<std::string>(), json.at("rig_definition").get<std::string>()},
          {json.at("shaft_file").get<std::string>(), json.at("shaft_definition").get<std::string>()},
          {}};
}

template <typename Read>
auto checked(Read read) {
  return checked_json(read, bad_line);
}

const Finding* finding_in(const What& what) {
  const auto* spun = std::get_if<Spun>(&what);
  if (spun != nullptr && spun->finding) return &*spun->finding;
  const auto* closed = std::get_if<Closed>(&what);
  return closed != nullptr && closed->finding ? &*closed->finding : nullptr;
}

/// The columns a person reads; empty where an entry has no such thing.
std::string csv_row(const Job& job, const std::string& shaft, const std::string& rig, const Event& event) {
  const auto* spun = std::get_if<Spun>(&event.what);
  const Finding* finding = finding_in(event.what);
  return csv_line({job.name, shaft, rig, std::to_string(event.number), std::string(kind_of(event.what)),
                   utc_text(event.at_unix_s), event.program, spun != nullptr ? spun->label : "",
                   spun != nullptr && spun->speed_rad_s ? fmt::format("{:.1f}", rpm(*spun->speed_rad_s)) : "",
                   finding != nullptr ? std::string(verdict_name(finding->verdict)) : "",
                   finding != nullptr ? fmt::format("{:.4g}", finding->worst_ratio()) : "",
                   spun != nullptr ? spun->recording : "",
                   json_of(event).dump(-1, ' ', false, Json::error_handler_t::replace)});
}

Json json_of(const RigRecord& record) {
  Json json = {{"format", rig_record_format}, {"version", interchange_version}};
  json.update(kept_json(record));
  return json;
}

RigRecord rig_record_of(const Json& json) {
  if (json.at("version").get<int>() > interchange_version) throw bad_line("a later program wrote it");
  return kept_in<RigRecord>(json);
}

/// Rows of a table that an export wrote, without the first.
std::vector<std::vector<std::string>> entries_of_csv(const std::string& text) {
  auto rows = rows_of_csv(text);
  if (rows.empty() || csv_line(rows.front()) != csv_head()) throw bad_line("row 1 does not have the log's columns");
  for (std::size_t i = 1; i < rows.size(); ++i)
    if (rows[i].size() != rows.front().size()) throw bad_line(fmt::format("row {} has other columns", i + 1));
  rows.erase(rows.begin());
  return rows;
}

}  // namespace

std::string rig_record_to_json_line(const RigRecord& record) {
  return json_of(record).dump();
}

std::optional<RigRecord> rig_record_of_json_line(const std::string& line) {
  return checked([&]() -> std::optional<RigRecord> {
    const Json json = Json::parse(line);
    if (json.at("format") != rig_record_format) return std::nullopt;
    return rig_record_of(json);
  });
}

std::string rig_record_to_csv(const RigRecord& record) {
  return csv_line({"", "", record.rig, "", rig_record_kind, utc_text(record.at_unix_s), record.program, record.kind, "",
                   "", "", "", json_of(record).dump()});
}

std::vector<RigRecord> rig_records_of_csv(const std::string& text) {
  std::vector<RigRecord> records;
  for (const auto& row : entries_of_csv(text)) {
    if (row[4] != rig_record_kind) continue;
    records.push_back(checked([&] { return rig_record_of(Json::parse(row.back())); }));
  }
  return records;
}

std::string job_to_json_line(const Job& job) {
  Json json = head_of(job);
  json["entries"] = Json::array();
  for (const Event& event : job.events) json["entries"].push_back(json_of(event));
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

Job job_of_json_line(const std::string& line) {
  return checked([&] {
    const Json json = Json::parse(line);
    Job job = job_of_head(json);
    for (const Json& event : json.at("entries")) job.events.push_back(event_of_json(event));
    return job;
  });
}

std::string csv_head() {
  return csv_line({"job", "shaft", "rig", "number", "kind", "at_utc", "program", "label", "speed_rpm", "verdict",
                   "worst_residual_over_limit", "recording", "details"});
}

std::string job_to_csv(const Job& job) {
  const std::string shaft = job.shaft().id;
  const std::string rig = job.rig().name;
  std::string text = csv_line({job.name, shaft, rig, "0", "open", utc_text(job.opened_unix_s), job.program, "", "", "",
                               "", "", head_of(job).dump(-1, ' ', false, Json::error_handler_t::replace)});
  for (const Event& event : job.events) text += csv_row(job, shaft, rig, event);
  return text;
}

std::vector<Job> jobs_of_csv(const std::string& text) {
  const auto rows = entries_of_csv(text);
  std::vector<Job> jobs;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    if (rows[i][4] == rig_record_kind) continue;
    checked([&] {
      const Json details = Json::parse(rows[i].back());
      if (rows[i][4] == "open") {
        jobs.push_back(job_of_head(details));
      } else if (!jobs.empty() && jobs.back().name == rows[i].front()) {
        jobs.back().events.push_back(event_of_json(details));
      } else {
        throw bad_line(fmt::format("row {} belongs to no job", i + 2));
      }
    });
  }
  return jobs;
}

}  // namespace counterspot
