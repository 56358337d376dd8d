#include "report/rig_model.hpp"

#include <cmath>

#include "counterspot/drawing/rig_words.hpp"
#include "counterspot/units/angle.hpp"
#include "counterspot/units/coverage.hpp"
#include "counterspot/units/measured.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

/// In which the sentences are said.
struct Telling {
  const RigShown& shown;
  const Words& words;
  const RigModelWords& texts = rig_model_words(words);

  std::string number(double value, int decimals) const { return number_text(value, decimals, words); }
  std::string teacher(std::size_t lesson) const { return teacher_name(shown.teachers[lesson], texts); }
  std::string day(std::size_t lesson) const { return utc_day(shown.model.lessons[lesson].at_unix_s); }
};

std::string sentence_of(const SetAside& aside, const Telling& told) {
  return say(told.texts.job_aside, told.teacher(aside.lesson), told.day(aside.lesson),
             told.number(aside.chi_squared, 0), aside.degrees);
}

std::string sentence_of(const SensorStep& step, const Telling& told) {
  const double more = 100.0 * (std::exp(step.ln_gain) - 1.0);
  const double later = degrees(step.gain_rad);
  const std::string& sensor = told.shown.sensors[static_cast<std::size_t>(step.pedestal)];
  return say(told.texts.sensor_step, told.teacher(step.lesson), told.day(step.lesson), sensor,
             told.number(std::abs(more), 1), more < 0.0 ? told.texts.less : told.texts.more,
             told.number(std::abs(later), 1), later < 0.0 ? told.texts.earlier : told.texts.later, sensor);
}

std::string sentence_of(const PedestalDrift& drift, const std::string& pedestal, const Telling& told) {
  const double percent = 100.0 * drift.change.value;
  const std::string size = measured_text(std::abs(percent), 100.0 * coverage_factor * drift.change.u, told.words);
  return say(percent < 0.0 ? told.texts.softer : told.texts.stiffer, pedestal, size);
}

std::string sentence_of(const BedCondition& bed, const Telling& told) {
  std::string speeds;
  for (const double rate_rad_s : bed.resonances_rad_s)
    speeds += (speeds.empty() ? "" : told.texts.and_) + say(told.texts.rpm, told.number(rpm(rate_rad_s), 0));
  return say(told.texts.bed_near, speeds);
}

std::string sentence_of(const AttachedCondition& attached, const Telling& told) {
  return say(told.texts.swings_near, told.number(rpm(turn_rad * attached.swings_Hz.value), 0),
             place_of(attached, told.shown.sensors, told.texts));
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

std::vector<std::string> sentences_of(const RigShown& shown, const Words& words) {
  const Telling told{shown, words};
  std::vector<std::string> sentences;
  for (const SetAside& each : shown.model.set_aside) sentences.push_back(sentence_of(each, told));
  for (const SensorStep& each : shown.model.steps) sentences.push_back(sentence_of(each, told));
  for (std::size_t p : {0U, 1U}) {
    const auto& drift = shown.condition.drift[p];
    if (drift && drift->moved) sentences.push_back(sentence_of(*drift, shown.sensors[p], told));
  }
  if (shown.condition.bed && !shown.condition.bed->resonances_rad_s.empty())
    sentences.push_back(sentence_of(*shown.condition.bed, told));
  for (const AttachedCondition& each : shown.condition.attached)
    if (each.among_speeds) sentences.push_back(sentence_of(each, told));
  return sentences;
}

std::string place_of(const AttachedCondition& attached, const std::array<std::string, 2>& sensors,
                     const RigModelWords& texts) {
  return attached.on_both ? texts.on_both : say(texts.on_pedestal, sensors[attached.pedestal]);
}

const char* reach_name(const Reach& reach, const RigModelWords& texts) {
  if (reach.u_relative <= reach_good) return texts.good;
  return reach.u_relative <= reach_fair ? texts.fair : texts.unknown;
}

const RigModelWords& rig_model_words(const Words& words) {
  return words.rig_work().of_model();
}

std::string teacher_name(const std::string& teacher, const RigModelWords& texts) {
  return teacher == qualification_teacher ? texts.qualification : teacher;
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
