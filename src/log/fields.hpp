#pragma once

#include <concepts>
#include <string>
#include <string_view>
#include <type_traits>

#include "counterspot/job/job.hpp"
#include "counterspot/log/log.hpp"
#include "counterspot/rig/rig_work.hpp"

namespace counterspot {

/// What the log keeps of each thing, field by field: the one list that its tables, the exchange form and the records of
/// a rig go by. `keep(name, member)` is called for each; `name` is the key in JSON, and the column's name unless
/// another one follows. A field of `keep.if_known` is left out where its value is that of a new object, so that what an
/// older program wrote stays as it was; one of `keep.if_there` is written, and may lack in what an older program wrote.
/// Lists of things are tables of their own (`rows.cpp`).

/// `T` is `Thing`, to be written or to be read.
template <typename T, typename Thing>
concept Kind = std::same_as<std::remove_const_t<T>, Thing>;

void fields(auto& keep, Kind<FittedWeight> auto& piece) {
  keep("plane", piece.plane);
  keep("mass_kg", piece.mass_kg);
  keep("radius_m", piece.radius_m);
  keep("angle_rad", piece.angle_rad);
}

void fields(auto& keep, Kind<NoiseBand> auto& band) {
  keep("from_Hz", band.from_Hz);
  keep("to_Hz", band.to_Hz);
  keep("rms", band.rms);
  keep("u_fraction", band.u_fraction);
}

void fields(auto& keep, Kind<SensorReading> auto& reading) {
  keep("sensor", reading.sensor);
  keep("motion", reading.motion);
  keep("value_si", reading.value, "value_re", "value_im");
  keep("covariance_si2", reading.covariance, "var_re", "cov_re_im", "var_im");
  keep.if_known("step_si", reading.level.step, "step");
  keep.if_known("bands", reading.level.bands);
}

void fields(auto& keep, Kind<SaidWarning> auto& warning) {
  keep("code", warning.code);
  keep("sensor", warning.sensor);
  keep("message", warning.message);
}

void fields(auto& keep, Kind<PlaneFinding> auto& plane) {
  keep("plane", plane.plane);
  keep("residual_kg_m", plane.residual_kg_m, "residual_re_kg_m", "residual_im_kg_m");
  keep("covariance_kg2_m2", plane.covariance, "var_re", "cov_re_im", "var_im");
  keep("correction_kg", plane.correction_kg, "mass_kg");
  keep("radius_m", plane.radius_m);
  keep("angle_rad", plane.angle_rad);
  keep("predicted_residual_kg_m", plane.predicted_residual_kg_m);
}

void fields(auto& keep, Kind<Held> auto& held) {
  keep("place", held.place);
  keep("residual_kg_m", held.residual_kg_m);
  keep("u_residual_kg_m", held.u_residual_kg_m);
  keep("limit_kg_m", held.limit_kg_m);
  keep("verdict", held.verdict);
}

void fields(auto& keep, Kind<SaidReason> auto& reason) {
  keep("code", reason.code);
  keep("message", reason.message);
  keep("remedy", reason.remedy);
  keep("spins", reason.spins);
  keep("sensors", reason.sensors);
}

void fields(auto& keep, Kind<Finding> auto& finding) {
  keep("verdict", finding.verdict);
  keep("used_prior", finding.used_prior);
  keep("planes", finding.planes);
  keep("held", finding.held);
  keep.if_known("held_back", finding.held_back);
  keep.if_known("rig_taught_by_shafts", finding.rig_taught_by, "rig_taught_by");
  keep.if_known("of_them_brought_in", finding.brought_in, "brought_in");
}

void fields(auto& keep, Kind<Spun> auto& spun) {
  keep("label", spun.label);
  keep("readings", spun.readings);
  keep("speed_rad_s", spun.speed_rad_s);
  keep("speed_drift_fraction", spun.speed_drift_fraction);
  keep("revolutions", spun.revolutions);
  keep("duration_s", spun.duration_s);
  keep("recording", spun.recording);
  keep("sha256", spun.sha256);
  keep("warnings", spun.warnings);
  keep("finding", spun.finding);
  keep.if_known("turned_rad", spun.turned_rad);
}

void fields(auto& keep, Kind<Fitted> auto& fitted) {
  keep("pieces", fitted.pieces);
}

void fields(auto& keep, Kind<TakenBack> auto& back) {
  keep("entry", back.number);
  keep("reason", back.reason);
}

void fields(auto& keep, Kind<Closed> auto& closed) {
  keep("final_spin", closed.final_spin);
  keep("finding", closed.finding);
  keep("reason", closed.reason);
}

void fields(auto& keep, Kind<Signed> auto& made) {
  keep("signed_by", made.by);
  keep("public_key", made.public_key);
  keep("signature", made.signature);
}

void fields(auto& keep, Kind<Ordered> auto& said) {
  keep.if_known("customer", said.order.customer, "customer");
  keep.if_known("number", said.order.number, "order_number");
  keep.if_known("part", said.order.part, "part");
  keep.if_known("serial", said.order.serial, "serial");
  keep.if_known("shop", said.order.shop, "shop");
  keep.if_known("balanced_by", said.order.balanced_by, "balanced_by");
  keep.if_known("inspected_by", said.order.inspected_by, "inspected_by");
  keep.if_known("fixed_by", said.order.fixed_by, "fixed_by");
  keep.if_known("limits_by", said.order.limits_by, "limits_by");
}

void fields(auto& keep, Kind<RigFinding> auto& finding) {
  keep("place", finding.place);
  keep("verdict", finding.verdict);
  keep("measured", finding.measured);
  keep("allowed", finding.allowed);
  keep("words", finding.words);
}

void fields(auto& keep, Kind<Qualification> auto& result) {
  keep("passed", result.passed);
  keep("findings", result.findings);
  keep("coefficients_si_per_kg_m", result.coefficients);
  keep("umar_kg_m", result.umar_kg_m);
  keep("reduction", result.reduction);
  keep("remount_kg_m", result.remount_kg_m);
  keep("adapters_kg_m", result.adapters_kg_m);
  keep("small_over_mean", result.small_over_mean);
  keep("reductions", result.reductions);
}

void fields(auto& keep, Kind<RigCheck> auto& check) {
  keep("within", check.within);
  keep("findings", check.findings);
  keep("change", check.change);
  keep("moved_kg_m", check.moved_kg_m);
}

void fields(auto& keep, Kind<Recalibration> auto& found) {
  keep("sound", found.sound);
  keep("change", found.change);
  keep("cross_talk", found.cross_talk);
  keep("volts_per_si", found.volts_per_si);
  keep("words", found.words);
}

void fields(auto& keep, Kind<RigYardstick> auto& yardstick) {
  keep("shaft", yardstick.shaft);
  keep.time("at", yardstick.at_unix_s, "at_unix_s");
  keep("speed_rad_s", yardstick.speed_rad_s);
  keep("motions", yardstick.motions);
  keep("coefficients_si_per_kg_m", yardstick.coefficients);
  keep("bare_si", yardstick.bare);
  keep("umar_kg_m", yardstick.umar_kg_m);
  keep("remount_kg_m", yardstick.remount_kg_m);
  keep("adapters", yardstick.adapters);
}

void fields(auto& keep, Kind<RigSpun> auto& made) {
  keep("step", made.step);
  keep("spin", made.spun);
  keep("pieces", made.fitted);
}

void fields(auto& keep, Kind<RigClosed> auto& closed) {
  keep("reason", closed.reason);
  keep("result", closed.result);
}

void fields(auto& keep, Kind<RigRecord> auto& record) {
  keep("rig", record.rig);
  keep("kind", record.kind);
  keep.time("at", record.at_unix_s, "at_unix_s");
  keep("program", record.program);
  keep("details", record.details);
}

/// A kept name that this program does not know.
struct UnknownName {
  std::string text;
  std::string_view wanted;  ///< "a verdict"
};

/// The values of an enumeration that is kept by name, their names, and what such a value is.
template <typename Enum>
struct Named {
  std::vector<Enum> all;
  std::string_view (*name)(Enum);
  std::string_view wanted;
};
inline Named<Verdict> names_of(Verdict /*kind*/) {
  return {{Verdict::within, Verdict::outside, Verdict::unsure}, verdict_name, "a verdict"};
}
inline Named<Motion> names_of(Motion /*kind*/) {
  return {{Motion::acceleration, Motion::velocity, Motion::displacement, Motion::unscaled},
          motion_name,
          "a kind of motion"};
}
inline Named<RigPlace> names_of(RigPlace /*kind*/) {
  return {{RigPlace::sensors, RigPlace::separation, RigPlace::smallest_residual, RigPlace::reduction, RigPlace::speed,
           RigPlace::adapters},
          rig_place_name,
          "a place of a qualification"};
}
inline Named<RigVerdict> names_of(RigVerdict /*kind*/) {
  return {{RigVerdict::passed, RigVerdict::failed, RigVerdict::not_judged}, rig_verdict_name, "a rig's verdict"};
}
inline Named<RigTask> names_of(RigTask /*kind*/) {
  return {{RigTask::qualification, RigTask::check, RigTask::recalibration}, rig_task_name, "work on a rig"};
}

/// @throws UnknownName
template <typename Enum>
Enum named(const std::string& text) {
  const auto names = names_of(Enum{});
  for (const Enum each : names.all)
    if (names.name(each) == text) return each;
  throw UnknownName{text, names.wanted};
}

}  // namespace counterspot
