#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "counterspot/log/log.hpp"
#include "counterspot/units/error.hpp"
#include "counterspot/units/units.hpp"
#include "log/csv.hpp"
#include "log/spun_json.hpp"

namespace counterspot {

namespace {

using Json = nlohmann::ordered_json;

constexpr int interchange_version = 1;
constexpr const char* interchange_format = "counterspot job";
constexpr const char* rig_record_format = "counterspot rig record";
constexpr const char* rig_record_kind = "rig record";  // in a table

Error bad_line(const std::string& trouble) {
  return {Trouble::request, "bad_log_line", fmt::format("this is not a job as a log exports it: {}", trouble),
          "import what 'log export' wrote, unchanged"};
}

Json json_of(const Eigen::Matrix2d& c) {
  return {c(0, 0), c(0, 1), c(1, 1)};
}

Eigen::Matrix2d matrix_of(const Json& json) {
  const double mixed = json.at(1).get<double>();
  return Eigen::Matrix2d{{json.at(0).get<double>(), mixed}, {mixed, json.at(2).get<double>()}};
}

Json json_of(const Phasor& z) {
  return {z.real(), z.imag()};
}

Phasor phasor_of(const Json& json) {
  return {json.at(0).get<double>(), json.at(1).get<double>()};
}

Verdict verdict_of_json(const Json& json) {
  for (Verdict verdict : {Verdict::within, Verdict::outside, Verdict::unsure}) {
    if (verdict_name(verdict) == json.get<std::string>()) return verdict;
  }
  throw bad_line("'" + json.get<std::string>() + "' is not a verdict");
}

Motion motion_of_json(const Json& json) {
  for (Motion motion : {Motion::acceleration, Motion::velocity, Motion::displacement}) {
    if (motion_name(motion) == json.get<std::string>()) return motion;
  }
  throw bad_line("'" + json.get<std::string>() + "' is not a kind of motion");
}

template <typename T>
Json json_or_null(const std::optional<T>& value) {
  return value ? Json(*value) : Json(nullptr);
}

template <typename T>
std::optional<T> optional_of(const Json& json) {
  return json.is_null() ? std::nullopt : std::optional(json.get<T>());
}

Json json_of(const std::optional<Finding>& finding) {
  if (!finding) return nullptr;
  Json planes = Json::array();
  for (const PlaneFinding& plane : finding->planes) {
    planes.push_back({{"plane", plane.plane},
                      {"residual_kg_m", json_of(plane.residual_kg_m)},
                      {"covariance_kg2_m2", json_of(plane.covariance)},
                      {"correction_kg", plane.correction_kg},
                      {"radius_m", plane.radius_m},
                      {"angle_rad", plane.angle_rad},
                      {"predicted_residual_kg_m", plane.predicted_residual_kg_m}});
  }
  Json held = Json::array();
  for (const Held& place : finding->held) {
    held.push_back({{"place", place.place.text()},
                    {"residual_kg_m", place.residual_kg_m},
                    {"u_residual_kg_m", place.u_residual_kg_m},
                    {"limit_kg_m", place.limit_kg_m},
                    {"verdict", verdict_name(place.verdict)}});
  }
  Json reasons = Json::array();
  for (const SaidReason& reason : finding->held_back) {
    reasons.push_back({{"code", reason.code},
                       {"message", reason.message},
                       {"remedy", reason.remedy},
                       {"spins", reason.spins},
                       {"sensors", reason.sensors}});
  }
  Json json = {{"verdict", verdict_name(finding->verdict)},
               {"used_prior", finding->used_prior},
               {"planes", planes},
               {"held", held}};
  if (!reasons.empty()) json["held_back"] = reasons;  // what earlier versions exported stays byte for byte
  return json;
}

std::optional<Finding> finding_of_json(const Json& json) {
  if (json.is_null()) return std::nullopt;
  Finding finding;
  finding.verdict = verdict_of_json(json.at("verdict"));
  finding.used_prior = json.at("used_prior").get<bool>();
  for (const Json& plane : json.at("planes")) {
    finding.planes.push_back({plane.at("plane").get<std::string>(), phasor_of(plane.at("residual_kg_m")),
                              matrix_of(plane.at("covariance_kg2_m2")), plane.at("correction_kg").get<double>(),
                              plane.at("radius_m").get<double>(), plane.at("angle_rad").get<double>(),
                              plane.at("predicted_residual_kg_m").get<double>()});
  }
  for (const Json& place : json.at("held")) {
    finding.held.push_back({place_of(place.at("place").get<std::string>()), place.at("residual_kg_m").get<double>(),
                            place.at("u_residual_kg_m").get<double>(), place.at("limit_kg_m").get<double>(),
                            verdict_of_json(place.at("verdict"))});
  }
  for (const Json& reason : json.value("held_back", Json::array())) {
    finding.held_back.push_back({reason.at("code").get<std::string>(), reason.at("message").get<std::string>(),
                                 reason.at("remedy").get<std::string>(),
                                 reason.at("spins").get<std::vector<std::string>>(),
                                 reason.at("sensors").get<std::vector<std::string>>()});
  }
  return finding;
}

Json json_of(const SensorReading& reading) {
  Json json = {{"sensor", reading.sensor},
               {"motion", motion_name(reading.motion)},
               {"value_si", json_of(reading.value)},
               {"covariance_si2", json_of(reading.covariance)}};
  // Only what is known, so that what an older program wrote stays as it was.
  if (reading.level.step > 0.0) json["step_si"] = reading.level.step;
  for (const NoiseBand& band : reading.level.bands)
    json["bands"].push_back({band.from_Hz, band.to_Hz, band.rms, band.u_fraction});
  return json;
}

SensorReading reading_of_json(const Json& json) {
  SensorReading reading{json.at("sensor").get<std::string>(),
                        motion_of_json(json.at("motion")),
                        phasor_of(json.at("value_si")),
                        matrix_of(json.at("covariance_si2")),
                        {{}, json.value("step_si", 0.0)}};
  for (const Json& band : json.value("bands", Json::array()))
    reading.level.bands.push_back(
        {band.at(0).get<double>(), band.at(1).get<double>(), band.at(2).get<double>(), band.at(3).get<double>()});
  return reading;
}

Json json_of(const Spun& spun) {
  Json readings = Json::array();
  for (const SensorReading& reading : spun.readings) readings.push_back(json_of(reading));
  Json warnings = Json::array();
  for (const SaidWarning& warning : spun.warnings)
    warnings.push_back({{"code", warning.code}, {"sensor", warning.sensor}, {"message", warning.message}});
  Json json = {{"label", spun.label},
               {"readings", readings},
               {"speed_rad_s", json_or_null(spun.speed_rad_s)},
               {"speed_drift_fraction", spun.speed_drift_fraction},
               {"revolutions", spun.revolutions},
               {"duration_s", spun.duration_s},
               {"recording", spun.recording},
               {"sha256", spun.sha256},
               {"warnings", warnings},
               {"finding", json_of(spun.finding)}};
  if (spun.turned_rad) json["turned_rad"] = *spun.turned_rad;  // so that what an older program wrote stays as it was
  return json;
}

Spun spun_of_json(const Json& json) {
  Spun spun;
  spun.label = json.at("label").get<std::string>();
  for (const Json& reading : json.at("readings")) spun.readings.push_back(reading_of_json(reading));
  spun.speed_rad_s = optional_of<double>(json.at("speed_rad_s"));
  spun.speed_drift_fraction = json.at("speed_drift_fraction").get<double>();
  spun.revolutions = json.at("revolutions").get<std::int64_t>();
  spun.duration_s = json.at("duration_s").get<double>();
  spun.recording = json.at("recording").get<std::string>();
  spun.sha256 = json.at("sha256").get<std::string>();
  for (const Json& warning : json.at("warnings")) {
    spun.warnings.push_back({warning.at("code").get<std::string>(), warning.at("sensor").get<std::string>(),
                             warning.at("message").get<std::string>()});
  }
  spun.finding = finding_of_json(json.at("finding"));
  if (json.contains("turned_rad")) spun.turned_rad = json.at("turned_rad").get<double>();
  return spun;
}

Json json_of(const Fitted& fitted) {
  Json pieces = Json::array();
  for (const FittedWeight& piece : fitted.pieces) {
    pieces.push_back({{"plane", piece.plane},
                      {"mass_kg", piece.mass_kg},
                      {"radius_m", piece.radius_m},
                      {"angle_rad", piece.angle_rad}});
  }
  return {{"pieces", pieces}};
}

Fitted fitted_of_json(const Json& json) {
  Fitted fitted;
  for (const Json& piece : json.at("pieces")) {
    fitted.pieces.push_back({piece.at("plane").get<int>(), piece.at("mass_kg").get<double>(),
                             piece.at("radius_m").get<double>(), piece.at("angle_rad").get<double>()});
  }
  return fitted;
}

Json json_of(const TakenBack& back) {
  return {{"entry", back.number}, {"reason", back.reason}};
}

Json json_of(const Closed& closed) {
  return {
      {"final_spin", json_or_null(closed.final_spin)}, {"finding", json_of(closed.finding)}, {"reason", closed.reason}};
}

What what_of_json(const std::string& kind, const Json& json) {
  if (kind == "spin") return spun_of_json(json);
  if (kind == "fit") return fitted_of_json(json);
  if (kind == "take back") return TakenBack{json.at("entry").get<int>(), json.at("reason").get<std::string>()};
  if (kind == "close") {
    return Closed{optional_of<int>(json.at("final_spin")), finding_of_json(json.at("finding")),
                  json.at("reason").get<std::string>()};
  }
  throw bad_line("'" + kind + "' is not a kind of entry");
}

Json json_of(const Event& event) {
  return {{"number", event.number},
          {"kind", kind_of(event.what)},
          {"at", utc_text(event.at_unix_s)},
          {"program", event.program},
          {"details", std::visit([](const auto& what) { return json_of(what); }, event.what)}};
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
  try {
    return read();
  } catch (const nlohmann::json::exception& error) {
    throw bad_line(error.what());
  }
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
  return {{"format", rig_record_format}, {"version", interchange_version},   {"rig", record.rig},
          {"kind", record.kind},         {"at", utc_text(record.at_unix_s)}, {"program", record.program},
          {"details", record.details}};
}

RigRecord rig_record_of(const Json& json) {
  if (json.at("version").get<int>() > interchange_version) throw bad_line("a later program wrote it");
  return {json.at("rig").get<std::string>(), json.at("kind").get<std::string>(),
          unix_time_of(json.at("at").get<std::string>()), json.at("program").get<std::string>(),
          json.at("details").get<std::string>()};
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

Json spun_json(const Spun& spun) {
  return json_of(spun);
}

Spun spun_in(const Json& json) {
  return spun_of_json(json);
}

Json pieces_json(const std::vector<FittedWeight>& pieces) {
  return json_of(Fitted{pieces}).at("pieces");
}

std::vector<FittedWeight> pieces_in(const Json& json) {
  return fitted_of_json(Json{{"pieces", json}}).pieces;
}

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
