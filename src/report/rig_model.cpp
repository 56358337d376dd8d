#include "report/rig_model.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/units/angle.hpp"
#include "counterspot/units/coverage.hpp"
#include "counterspot/units/measured.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

std::string sentence_of(const SetAside& aside, const RigShown& shown) {
  const RigLesson& lesson = shown.model.lessons[aside.lesson];
  return fmt::format(
      "{} ({}) hardly counts: its spins say otherwise than all other jobs (χ² {:.0f} of {}). Look at what was "
      "stated to be fitted there, and at the shaft's mass",
      shown.teachers[aside.lesson], utc_day(lesson.at_unix_s), aside.chi_squared, aside.degrees);
}

std::string sentence_of(const SensorStep& step, const RigShown& shown) {
  const double more = 100.0 * (std::exp(step.ln_gain) - 1.0);
  const double later = degrees(step.gain_rad);
  const std::string& sensor = shown.sensors[static_cast<std::size_t>(step.pedestal)];
  return fmt::format(
      "From {} ({}) on sensor {} reads {:.1f} % {} and {:.1f} deg {}. Was it changed or moved? If not, look at its "
      "mounting and cable, and at pedestal {}: hold-down bolts, a cracked foot",
      shown.teachers[step.lesson], utc_day(shown.model.lessons[step.lesson].at_unix_s), sensor, std::abs(more),
      more < 0.0 ? "less" : "more", std::abs(later), later < 0.0 ? "earlier" : "later", sensor);
}

std::string sentence_of(const PedestalDrift& drift, const std::string& pedestal) {
  const double percent = 100.0 * drift.change.value;
  const std::string size = measured_text(std::abs(percent), 100.0 * coverage_factor * drift.change.u);
  if (percent < 0.0) {
    return fmt::format(
        "Pedestal {} has become softer by {} % in the newest jobs. Look at its hold-down bolts, a cracked foot, "
        "what is clamped to it",
        pedestal, size);
  }
  return fmt::format(
      "Pedestal {} has become stiffer or heavier by {} % in the newest jobs. Look at what leans on it or was mounted "
      "on it, and at its springs",
      pedestal, size);
}

std::string sentence_of(const BedCondition& bed) {
  std::string speeds;
  for (const double rate_rad_s : bed.resonances_rad_s)
    speeds += fmt::format("{}{:.0f} rpm", speeds.empty() ? "" : " and ", rpm(rate_rad_s));
  return fmt::format(
      "The bed resonates near {}, among the speeds that this rig balances at. Look at its feet and what fastens them "
      "to the floor, with the rig standing still; balance away from there",
      speeds);
}

std::string sentence_of(const AttachedCondition& attached, const std::array<std::string, 2>& sensors) {
  return fmt::format(
      "Something swings by itself near {:.0f} rpm on {}, among the speeds that this rig balances at. Look there for a "
      "loose guard, bracket, hose or cable, with the rig standing still; balance away from there",
      rpm(turn_rad * attached.swings_Hz.value), place_of(attached, sensors));
}

void put(Json& json, const std::string& name, const Estimate& estimate, double factor = 1.0) {
  json[name] = factor * estimate.value;
  json["u_" + name] = factor * estimate.u;
  json["known_" + name] = is_known(estimate);
}

/// Without saying whether it is known: it is no number that people are shown as one of the rig.
void put_change(Json& json, const Estimate& estimate) {
  json["change_percent"] = 100.0 * estimate.value;
  json["u_change_percent"] = 100.0 * estimate.u;
}

Json json_of(const PedestalCondition& pedestal, const std::optional<PedestalDrift>& drift, const std::string& name) {
  Json json = {{"name", name}};
  put(json, "moving_mass_kg", pedestal.moving_mass_kg);
  put(json, "natural_frequency_Hz", pedestal.natural_frequency_Hz);
  put(json, "damping_percent", pedestal.damping_ratio, 100.0);
  put(json, "dynamic_stiffness_N_m", pedestal.dynamic_stiffness_N_m);
  put(json, "sensor_gain", pedestal.sensor_gain);
  put(json, "sensor_angle_deg", pedestal.sensor_angle_rad, degrees(1.0));
  if (!drift) {
    json["drift"] = nullptr;
    return json;
  }
  put_change(json["drift"], drift->change);
  json["drift"]["control_limit_percent"] = 100.0 * drift->control_limit;
  json["drift"]["moved"] = drift->moved;
  return json;
}

Json json_of(const BedCondition& bed) {
  Json json;
  put(json, "mass_kg", bed.mass_kg);
  put(json, "moves_Hz", bed.moves_Hz);
  put(json, "tilts_Hz", bed.tilts_Hz);
  json["resonates"] = !bed.resonances_rad_s.empty();
  return json;
}

Json json_of(const AttachedCondition& attached, const std::array<std::string, 2>& sensors) {
  Json json = {{"pedestal", sensors[attached.pedestal]}, {"on_both", attached.on_both}};
  put(json, "mass_kg", attached.mass_kg);
  put(json, "swings_Hz", attached.swings_Hz);
  json["resonates"] = attached.among_speeds;
  return json;
}

Json jobs_json(const RigShown& shown) {
  Json jobs = Json::array();
  for (std::size_t a = 0; a < shown.teachers.size(); ++a) {
    const PedestalReading& reading = shown.condition.readings[a];
    Json job = {{"job", shown.teachers[a]},
                {"at", utc_text(reading.at_unix_s)},
                {"speed_rpm", rpm(shown.model.lessons[a].speed_rad_s)},
                {"set_aside", reading.set_aside},
                {"pedestals", Json::array()}};
    for (const Estimate& change : reading.change) {
      Json each;
      put_change(each, change);
      job["pedestals"].push_back(each);
    }
    jobs.push_back(job);
  }
  return jobs;
}

Json json_of(const Reach& reach) {
  return {{"span_m", reach.span_m},
          {"mass_kg", reach.mass_kg},
          {"speed_rpm", rpm(reach.speed_rad_s)},
          {"u_percent", 100.0 * reach.u_relative},
          {"known", reach_name(reach)}};
}

Json json_of(const SpeedTried& tried) {
  return {{"speed_rpm", rpm(tried.speed_rad_s)},
          {"response_si_per_kg_m", tried.response},
          {"u_percent", 100.0 * tried.u_relative},
          {"near_resonance", tried.near_resonance}};
}

Json json_of(const std::vector<BroughtIn>& brought_in) {
  Json list = Json::array();
  for (const BroughtIn& each : brought_in) {
    Json jobs = Json::array();
    for (const CarriedLesson& lesson : each.carried.lessons)
      jobs.push_back({{"job", lesson.job}, {"shaft", lesson.shaft}, {"at", utc_text(lesson.lesson.at_unix_s)}});
    list.push_back({{"file", each.file},
                    {"brought_in", utc_text(each.at_unix_s)},
                    {"written", utc_text(each.carried.written_unix_s)},
                    {"program", each.carried.program},
                    {"jobs", jobs}});
  }
  return list;
}

}  // namespace

std::vector<std::string> sentences_of(const RigShown& shown) {
  std::vector<std::string> sentences;
  for (const SetAside& each : shown.model.set_aside) sentences.push_back(sentence_of(each, shown));
  for (const SensorStep& each : shown.model.steps) sentences.push_back(sentence_of(each, shown));
  for (std::size_t p : {0U, 1U}) {
    const auto& drift = shown.condition.drift[p];
    if (drift && drift->moved) sentences.push_back(sentence_of(*drift, shown.sensors[p]));
  }
  if (shown.condition.bed && !shown.condition.bed->resonances_rad_s.empty())
    sentences.push_back(sentence_of(*shown.condition.bed));
  for (const AttachedCondition& each : shown.condition.attached)
    if (each.among_speeds) sentences.push_back(sentence_of(each, shown.sensors));
  return sentences;
}

std::string place_of(const AttachedCondition& attached, const std::array<std::string, 2>& sensors) {
  return attached.on_both ? "both pedestals" : "pedestal " + sensors[attached.pedestal];
}

const char* reach_name(const Reach& reach) {
  if (reach.u_relative <= reach_good) return "good";
  return reach.u_relative <= reach_fair ? "fair" : "unknown";
}

Json document_of(const RigShown& shown) {
  const RigCondition& condition = shown.condition;
  Json pedestals = Json::array();
  for (std::size_t p : {0U, 1U})
    pedestals.push_back(json_of(condition.pedestals[p], condition.drift[p], shown.sensors[p]));
  Json coupling;
  put(coupling, "stiffness", condition.coupling[0]);
  put(coupling, "mass", condition.coupling[1]);
  put(coupling, "damping", condition.coupling[2]);
  Json attached = Json::array();
  for (const AttachedCondition& each : condition.attached) attached.push_back(json_of(each, shown.sensors));
  Json reach = Json::array();
  for (const Reach& each : condition.reach) reach.push_back(json_of(each));
  return {{"rig", shown.rig},
          {"kind", shown.model.kind == RigKind::hard ? "hard" : "soft"},
          {"usual_speed_rpm", rpm(condition.usual_speed_rad_s)},
          {"pedestals", pedestals},
          {"coupling", coupling},
          {"bed", condition.bed ? json_of(*condition.bed) : Json(nullptr)},
          {"attached", attached},
          {"jobs", jobs_json(shown)},
          {"look_at", sentences_of(shown)},
          {"reach", reach},
          {"brought_in", json_of(shown.brought_in)}};
}

Json document_of(const SpeedAdvice& advice) {
  Json speeds = Json::array();
  for (const SpeedTried& each : advice.speeds) speeds.push_back(json_of(each));
  Json resonances = Json::array();
  Json uncertain = Json::array();
  for (const Estimate& rate : advice.resonances_rad_s) {
    resonances.push_back(rpm(rate.value));
    uncertain.push_back(rpm(rate.u));
  }
  return {{"best", advice.best ? json_of(*advice.best) : Json(nullptr)},
          {"resonances_rpm", resonances},
          {"u_resonances_rpm", uncertain},
          {"speeds", speeds}};
}

}  // namespace counterspot
