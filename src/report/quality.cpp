#include "report/documents.hpp"

namespace counterspot {

std::string outcome_of(const JobOverview& line) {
  if (line.verdict) return std::string(verdict_name(*line.verdict));
  return line.closed_unix_s ? "no final spin" : "open";
}

Json document_of(const JobOverview& line) {
  return {{"job", line.name},
          {"shaft", line.shaft},
          {"rig", line.rig},
          {"family", line.family},
          {"opened", utc_text(line.opened_unix_s)},
          {"closed", time_or_null(line.closed_unix_s)},
          {"spins", line.spins},
          {"outcome", outcome_of(line)},
          {"worst_residual_over_limit", or_null(line.worst_ratio)}};
}

Json document_of(const TrendGroup& line) {
  return {{"group", line.group},
          {"closed", line.closed},
          {"within", line.within},
          {"outside", line.outside},
          {"unsure", line.unsure},
          {"without_final_spin", line.without_final},
          {"yield_percent", 100.0 * line.yield_fraction()},
          {"median_spins", line.median_spins},
          {"median_residual_over_limit", or_null(line.median_ratio)},
          {"highest_residual_over_limit", or_null(line.highest_ratio)}};
}

Json document_of(const ControlChart& chart, const std::vector<std::string>& jobs) {
  Json beyond = Json::array();
  for (std::size_t i : chart.beyond) beyond.push_back(jobs[i]);
  return {{"control_chart",
           {{"centre", chart.centre}, {"lower", chart.lower}, {"upper", chart.upper}, {"beyond", beyond}}}};
}

Json document_of(const Repeatability& sensor) {
  return {{"sensor", sensor.sensor},
          {"repeatability", sensor.deviation_si / si_per_display_unit(sensor.motion)},
          {"unit", display_unit(sensor.motion)},
          {"degrees_of_freedom", sensor.degrees_of_freedom}};
}

Json document_of(const GaugeStudy& study, const std::string& plane) {
  return {{"plane", plane},
          {"mountings", study.mountings},
          {"spins", study.spins},
          {"repeat_gmm", in_g_mm(study.repeat_kg_m)},
          {"mount_gmm", in_g_mm(study.mount_kg_m)},
          {"total_gmm", in_g_mm(study.total_kg_m)}};
}

Json document_of(const CoefficientTrend& trend) {
  Json beyond = Json::array();
  for (std::size_t i : trend.beyond) beyond.push_back(trend.jobs[i]);
  const Phasor now = trend.ratios.back();
  return {{"coefficients_of_sensor", trend.sensor},
          {"rig", trend.rig},
          {"family", trend.family},
          {"jobs", trend.jobs.size()},
          {"band_percent", 100.0 * trend.band},
          {"beyond", beyond},
          {"left_band_since", trend.since ? Json(trend.jobs[*trend.since]) : Json(nullptr)},
          {"last_size_percent", 100.0 * std::abs(now)},
          {"last_turn_deg", degrees(std::arg(now))}};
}

Json document_of(const Imported& imported) {
  return {{"jobs", imported.jobs},
          {"new_entries", imported.entries},
          {"rig_records", imported.rig_records},
          {"new_rig_records", imported.new_rig_records}};
}

Json document_of(const CheckReport& report, const RecordingsCheck& recordings) {
  return {{"jobs", report.jobs},
          {"entries", report.events},
          {"sealed_since", utc_text(report.sealed_since_unix_s)},
          {"sealed_later", report.sealed_later},
          {"recordings", recordings.seen},
          {"recordings_not_there", recordings.gone},
          {"faults", report.faults}};
}

}  // namespace counterspot
