#include <fmt/format.h>

#include <algorithm>

#include "counterspot/files/table.hpp"
#include "counterspot/log/log.hpp"
#include "counterspot/units/error.hpp"
#include "counterspot/units/units.hpp"
#include "files/csv.hpp"
#include "log/canonical.hpp"
#include "log/fields_json.hpp"
#include "units/one_line.hpp"

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
  if (kind == "sign") return kept_in<Signed>(json);
  if (kind == "order") return kept_in<Ordered>(json);
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
  return {plain_in<int>(json.at("number")), unix_time_of(json.at("at").get<std::string>()),
          json.at("program").get<std::string>(), what_of_json(json.at("kind").get<std::string>(), json.at("details"))};
}

Json opened_with(const Job& job) {
  return {{"uid", job.uid},
          {"opened", utc_text(job.opened_unix_s)},
          {"program", job.program},
          {"rig_file", job.rig_file.path()},
          {"rig_definition", job.rig_file.text()},
          {"shaft_file", job.shaft_file.path()},
          {"shaft_definition", job.shaft_file.text()}};
}

Json head_of(const Job& job) {
  Json head = {{"format", interchange_format}, {"version", interchange_version}, {"uid", job.uid}, {"job", job.name},
               {"shaft", job.shaft().id},      {"rig", job.rig().name}};
  head.update(opened_with(job));
  return head;
}

Json sealed(Json json, const Job& job) {
  if (!job.seal.empty()) json["seal"] = job.seal;
  return json;
}

Job job_of_head(const Json& json) {
  if (json.at("format") != interchange_format) throw bad_line("it is not of this format");
  if (plain_in<int>(json.at("version")) > interchange_version) throw bad_line("a later program wrote it");
  return {json.at("uid").get<std::string>(),
          json.at("job").get<std::string>(),
          unix_time_of(json.at("opened").get<std::string>()),
          json.at("program").get<std::string>(),
          {json.at("rig_file").get<std::string>(), json.at("rig_definition").get<std::string>()},
          {json.at("shaft_file").get<std::string>(), json.at("shaft_definition").get<std::string>()},
          {},
          json.value("seal", "")};
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

/// The columns that tables have had from the first version on, in this order. Those behind them depend on the log.
constexpr std::size_t at_name = 0;
constexpr std::size_t at_kind = 4;
constexpr std::size_t at_details = 12;  // holds everything
const std::vector<std::string>& first_columns() {
  static const std::vector<std::string> names = {"job",
                                                 "shaft",
                                                 "rig",
                                                 "number",
                                                 "kind",
                                                 "at_utc",
                                                 "program",
                                                 "label",
                                                 "speed_rpm",
                                                 "verdict",
                                                 "worst_residual_over_limit",
                                                 "recording",
                                                 "details"};
  return names;
}

/// Residual and limit of each plane. The units are in ASCII, which spreadsheets read without being told the encoding.
void add_planes(TableRow& row, const Finding& finding) {
  for (const PlaneFinding& plane : finding.planes) {
    row.number(fmt::format("residual {} (g-mm)", plane.plane), in_g_mm(std::abs(plane.residual_kg_m)));
    row.number(fmt::format("residual_angle {} (deg)", plane.plane), direction_deg(plane.residual_kg_m));
    if (!plane.covariance.isZero(0.0))
      row.number(fmt::format("u_residual {} (g-mm)", plane.plane),
                 in_g_mm(u_of_magnitude(plane.residual_kg_m, plane.covariance)));
    for (const Held& held : finding.held) {
      if (held.place.kind != HeldPlace::Kind::plane || held.place.name != plane.plane) continue;
      row.number(fmt::format("limit {} (g-mm)", plane.plane), in_g_mm(held.limit_kg_m));
    }
  }
}

void add_reading(TableRow& row, const SensorReading& reading) {
  const OrderVector vector{1.0, reading.value, reading.covariance};
  const double unit = si_per_display_unit(reading.motion);
  row.text("sensor", reading.sensor);
  row.number("order", vector.order);
  row.number(fmt::format("amplitude ({})", display_unit(reading.motion)), vector.amplitude() / unit);
  row.number("phase_lag (deg)", vector.phase_lag_deg());
  if (reading.covariance.isZero(0.0)) return;
  row.number(fmt::format("u_amplitude ({})", display_unit(reading.motion)), vector.u_amplitude() / unit);
  row.number("u_phase_lag (deg)", vector.u_phase_lag_deg());
}

TableRow first_cells(const std::string& job, const std::string& shaft, const std::string& rig, int number,
                     std::string_view kind, std::int64_t at_unix_s, const std::string& program) {
  TableRow row;
  row.text("job", job);
  row.text("shaft", shaft);
  row.text("rig", rig);
  row.number("number", number);
  row.text("kind", kind);
  row.text("at_utc", utc_text(at_unix_s));
  row.text("program", program);
  return row;
}

/// An entry, but for what each sensor read.
TableRow row_of(const Job& job, const std::string& shaft, const std::string& rig, const Event& event) {
  TableRow row = first_cells(job.name, shaft, rig, event.number, kind_of(event.what), event.at_unix_s, event.program);
  if (const auto* spun = std::get_if<Spun>(&event.what)) {
    row.text("label", spun->label);
    if (spun->speed_rad_s) row.text("speed_rpm", fmt::format("{:.1f}", rpm(*spun->speed_rad_s)));
    row.text("recording", spun->recording);
  }
  if (const Finding* finding = finding_in(event.what)) {
    row.text("verdict", verdict_name(finding->verdict));
    row.text("worst_residual_over_limit", fmt::format("{:.4g}", finding->worst_ratio()));
    add_planes(row, *finding);
  }
  row.text("details", one_line(json_of(event)));
  return row;
}

Json json_of(const RigRecord& record) {
  Json json = {{"format", rig_record_format}, {"version", interchange_version}};
  json.update(kept_json(record));
  return json;
}

RigRecord rig_record_of(const Json& json) {
  if (plain_in<int>(json.at("version")) > interchange_version) throw bad_line("a later program wrote it");
  return kept_in<RigRecord>(json);
}

bool are_log_columns(const std::vector<std::string>& names) {
  const auto& first = first_columns();
  return names.size() >= first.size() && std::equal(first.begin(), first.end(), names.begin());
}

/// Rows of a table that an export wrote, without the first. Of a spin's rows, one for each sensor, one: all have the
/// same details.
std::vector<std::vector<std::string>> entries_of_csv(const std::string& text) {
  auto rows = rows_of_csv(text);
  if (rows.empty() || !are_log_columns(rows.front())) throw bad_line("row 1 does not have the log's columns");
  for (std::size_t i = 1; i < rows.size(); ++i)
    if (rows[i].size() != rows.front().size()) throw bad_line(fmt::format("row {} has other columns", i + 1));
  rows.erase(rows.begin());
  const auto of_same_entry = [](const auto& one, const auto& other) {
    return one[at_kind] == kind_of(Spun{}) && one[at_name] == other[at_name] && one[at_details] == other[at_details];
  };
  rows.erase(std::unique(rows.begin(), rows.end(), of_same_entry), rows.end());
  return rows;
}

}  // namespace

std::string canonical_text(const Job& job) {
  return one_line(opened_with(job));
}

std::string canonical_text(const Event& event) {
  return one_line(json_of(event));
}

std::string rig_record_to_json_line(const RigRecord& record) {
  return one_line(json_of(record));
}

std::optional<RigRecord> rig_record_of_json_line(const std::string& line) {
  return checked([&]() -> std::optional<RigRecord> {
    const Json json = Json::parse(line);
    if (json.at("format") != rig_record_format) return std::nullopt;
    return rig_record_of(json);
  });
}

TableRow row_of(const RigRecord& record) {
  TableRow row;
  row.text("rig", record.rig);
  row.text("kind", rig_record_kind);
  row.text("at_utc", utc_text(record.at_unix_s));
  row.text("program", record.program);
  row.text("label", record.kind);
  row.text("details", one_line(json_of(record)));
  return row;
}

std::vector<RigRecord> rig_records_of_csv(const std::string& text) {
  std::vector<RigRecord> records;
  for (const auto& row : entries_of_csv(text)) {
    if (row[at_kind] != rig_record_kind) continue;
    records.push_back(checked([&] { return rig_record_of(Json::parse(row[at_details])); }));
  }
  return records;
}

std::string job_to_json_line(const Job& job) {
  Json json = head_of(job);
  json["entries"] = Json::array();
  for (const Event& event : job.events) json["entries"].push_back(json_of(event));
  return one_line(sealed(std::move(json), job));
}

Job job_of_json_line(const std::string& line) {
  return checked([&] {
    const Json json = Json::parse(line);
    Job job = job_of_head(json);
    for (const Json& event : json.at("entries")) job.events.push_back(event_of_json(event));
    return job;
  });
}

std::vector<std::string> lines_of_log_document(const std::string& text) {
  return checked([&] {
    std::vector<std::string> lines;
    for (const Json& each : Json::parse(text)) lines.push_back(each.dump());
    return lines;
  });
}

TableColumns log_columns() {
  return TableColumns(first_columns());
}

bool is_log_table(const std::string& first_line) {
  const auto rows = rows_of_csv(first_line);
  return !rows.empty() && are_log_columns(rows.front());
}

std::vector<TableRow> rows_of(const Job& job) {
  const std::string shaft = job.shaft().id;
  const std::string rig = job.rig().name;
  std::vector<TableRow> rows;
  rows.push_back(first_cells(job.name, shaft, rig, 0, "open", job.opened_unix_s, job.program));
  rows.back().text("details", one_line(sealed(head_of(job), job)));
  for (const Event& event : job.events) {
    rows.push_back(row_of(job, shaft, rig, event));
    const auto* spun = std::get_if<Spun>(&event.what);
    if (spun == nullptr || spun->readings.empty()) continue;
    rows.insert(rows.end(), spun->readings.size() - 1, TableRow(rows.back()));
    auto row = rows.end() - static_cast<std::ptrdiff_t>(spun->readings.size());
    for (const SensorReading& reading : spun->readings) add_reading(*row++, reading);
  }
  return rows;
}

std::vector<Job> jobs_of_csv(const std::string& text) {
  const auto rows = entries_of_csv(text);
  std::vector<Job> jobs;
  for (const auto& row : rows) {
    if (row[at_kind] == rig_record_kind) continue;
    checked([&] {
      const Json details = Json::parse(row[at_details]);
      if (row[at_kind] == "open") {
        jobs.push_back(job_of_head(details));
      } else if (!jobs.empty() && cell_text(jobs.back().name) == row[at_name]) {
        jobs.back().events.push_back(event_of_json(details));
      } else {
        throw bad_line(fmt::format("an entry of job '{}' stands behind no row that opens it", row[at_name]));
      }
    });
  }
  return jobs;
}

}  // namespace counterspot
