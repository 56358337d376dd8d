#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "counterspot/units/angle.hpp"
#include "counterspot/units/coverage.hpp"
#include "counterspot/units/measured.hpp"
#include "report/rig_model.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

/// In which the parts are written.
struct Writing {
  const Words& words;
  const RigModelWords& texts = rig_model_words(words);

  std::string number(double value, int decimals) const { return number_text(value, decimals, words); }
  std::string with_sign(double value, int decimals) const {
    return with_decimal_sign(fmt::format("{:+.{}f}", value, decimals), words);
  }

  /// Of what is not known well, how badly: a number of it would be read as if it were.
  std::string known_or_not(const Estimate& estimate, double factor, const std::string& unit) const {
    const double expanded = coverage_factor * estimate.u;
    if (is_known(estimate)) return measured_text(factor * estimate.value, factor * expanded, words) + " " + unit;
    const double size = estimate.scale > 0.0 ? estimate.scale : std::abs(estimate.value);
    return say(texts.not_known_by, number(std::min(999.0, 100.0 * expanded / size), 0));
  }

  std::string angle_or_not(const Estimate& angle_rad) const {
    if (!is_known(angle_rad)) return texts.not_known;
    return measured_text(degrees(angle_rad.value), degrees(coverage_factor * angle_rad.u), words) + words.degree;
  }
};

std::string drift_text(const std::optional<PedestalDrift>& drift, const Writing& writing) {
  if (!drift) return writing.texts.drift_unknown;
  return say(writing.texts.drift_of, writing.with_sign(100.0 * drift->change.value, 1),
             writing.number(100.0 * coverage_factor * drift->change.u, 1));
}

RigPart part_of(const PedestalCondition& pedestal, const std::optional<PedestalDrift>& drift, const std::string& name,
                double speed_rad_s, const Writing& writing) {
  const RigModelWords& texts = writing.texts;
  return {say(texts.pedestal, name),
          {{texts.moving_mass, writing.known_or_not(pedestal.moving_mass_kg, 1.0, "kg")},
           {texts.natural_frequency, writing.known_or_not(pedestal.natural_frequency_Hz, 1.0, texts.Hz_bare)},
           {texts.damping, writing.known_or_not(pedestal.damping_ratio, 100.0, texts.of_critical)},
           {texts.dynamic_stiffness, writing.known_or_not(pedestal.dynamic_stiffness_N_m, 1e-6,
                                                          say(texts.N_um_at, writing.number(rpm(speed_rad_s), 0)))},
           {texts.sensor_reads, writing.known_or_not(pedestal.sensor_gain, 100.0, texts.of_what_is_there)},
           {texts.sensor_at, writing.angle_or_not(pedestal.sensor_angle_rad)},
           {texts.drift, drift_text(drift, writing)}}};
}

RigPart coupling_part(const std::array<Estimate, 3>& coupling, const Writing& writing) {
  const RigModelWords& texts = writing.texts;
  return {texts.coupling,
          {{texts.stiffness, writing.known_or_not(coupling[0], 100.0, texts.of_pedestals)},
           {texts.mass, writing.known_or_not(coupling[1], 100.0, texts.of_pedestals)},
           {texts.damping, writing.known_or_not(coupling[2], 100.0, texts.of_pedestals)}}};
}

RigPart bed_part(const BedCondition& bed, const Writing& writing) {
  const RigModelWords& texts = writing.texts;
  return {texts.bed,
          {{texts.mass, writing.known_or_not(bed.mass_kg, 1.0, "kg")},
           {texts.moves, writing.known_or_not(bed.moves_Hz, 1.0, texts.Hz_by_itself)},
           {texts.tilts, writing.known_or_not(bed.tilts_Hz, 1.0, texts.Hz_by_itself)}}};
}

RigPart attached_part(const AttachedCondition& attached, const std::array<std::string, 2>& sensors,
                      const Writing& writing) {
  const RigModelWords& texts = writing.texts;
  return {say(texts.swinging, place_of(attached, sensors, texts)),
          {{texts.mass, writing.known_or_not(attached.mass_kg, 1.0, "kg")},
           {texts.swings, writing.known_or_not(attached.swings_Hz, 1.0, texts.Hz_by_itself)}}};
}

RigPart reach_part(const std::vector<Reach>& reach, const Writing& writing) {
  RigPart part{writing.texts.foretold, {}};
  const auto right = [](const std::string& number, std::size_t letters) {
    return fmt::format("{:>{}}", number, letters);
  };
  for (const Reach& each : reach)
    part.rows.emplace_back(
        say(writing.texts.span, writing.number(each.span_m, 1), right(writing.number(each.mass_kg, 1), 4),
            right(writing.number(rpm(each.speed_rad_s), 0), 4)),
        fmt::format("± {:3.0f} %, {}", 100.0 * coverage_factor * each.u_relative, reach_name(each, writing.texts)));
  return part;
}

std::string reading_text(const PedestalReading& reading, const std::array<std::string, 2>& sensors,
                         const Writing& writing) {
  std::string text;
  for (std::size_t p : {0U, 1U})
    text += fmt::format("{}{} {:+.0f} % ± {:.0f} %", p == 0 ? "" : ", ", sensors[p], 100.0 * reading.change[p].value,
                        100.0 * coverage_factor * reading.change[p].u);
  return text + (reading.set_aside ? writing.texts.set_aside : "");
}

/// What each says of the pedestals beside what all say.
RigPart jobs_part(const RigShown& shown, const Writing& writing) {
  RigPart part{writing.texts.taught_by, {}};
  for (std::size_t a = 0; a < shown.teachers.size(); ++a) {
    const RigLesson& lesson = shown.model.lessons[a];
    part.rows.emplace_back(
        say(writing.texts.teacher, utc_day(lesson.at_unix_s), teacher_name(shown.teachers[a], writing.texts),
            writing.number(rpm(lesson.speed_rad_s), 0)),
        reading_text(shown.condition.readings[a], shown.sensors, writing));
  }
  return part;
}

RigPart brought_in_part(const std::vector<BroughtIn>& brought_in, const Writing& writing) {
  RigPart part{writing.texts.brought_in, {}};
  for (const BroughtIn& each : brought_in) {
    std::string shafts;
    for (const CarriedLesson& lesson : each.carried.lessons)
      shafts += (shafts.empty() ? "" : ", ") + lesson.shaft + " " + utc_day(lesson.lesson.at_unix_s);
    part.rows.emplace_back(say(writing.texts.file, each.file, utc_day(each.carried.written_unix_s),
                               each.carried.program, utc_day(each.at_unix_s)),
                           say(writing.texts.shafts, shafts));
  }
  return part;
}

/// A job that was spun at several speeds is more than one lesson, and so are several qualifications.
std::string teachers_text(const RigShown& shown, const RigModelWords& texts) {
  std::set<std::string> jobs(shown.teachers.begin(), shown.teachers.end());
  const bool qualified = jobs.erase(qualification_teacher) > 0;
  if (jobs.empty()) return texts.only_qualification;
  std::set<std::string> brought_in;
  for (std::size_t a = 0; a < shown.teachers.size(); ++a)
    if (shown.model.lessons[a].brought_in) brought_in.insert(shown.teachers[a]);
  return say(jobs.size() == 1 ? texts.one_job : texts.jobs, jobs.size()) +
         (brought_in.empty() ? "" : say(texts.of_others, brought_in.size())) +
         (qualified ? texts.and_qualification : "");
}

std::string resonances_text(const SpeedAdvice& advice, const Writing& writing) {
  const RigModelWords& texts = writing.texts;
  std::string text;
  for (const Estimate& rate : advice.resonances_rad_s) {
    if (rate.value >= 2.0 * advice.speeds.back().speed_rad_s) continue;
    const std::string speed = measured_text(rpm(rate.value), rpm(coverage_factor * rate.u), writing.words);
    text += (text.empty() ? "" : ", ") + (is_known(rate) ? say(texts.rpm, speed) : texts.one_not_known);
  }
  return say(texts.on_this_rig, text.empty() ? texts.no_resonance : text);
}

}  // namespace

std::string heading_of(const RigShown& shown, const Words& words) {
  const RigModelWords& texts = rig_model_words(words);
  return say(shown.model.kind == RigKind::hard ? texts.hard : texts.soft, teachers_text(shown, texts),
             utc_day(shown.model.lessons.front().at_unix_s), utc_day(shown.model.lessons.back().at_unix_s));
}

std::vector<RigPart> parts_of(const RigShown& shown, const Words& words) {
  const Writing writing{words};
  const RigCondition& condition = shown.condition;
  std::vector<RigPart> parts;
  for (std::size_t p : {0U, 1U})
    parts.push_back(
        part_of(condition.pedestals[p], condition.drift[p], shown.sensors[p], condition.usual_speed_rad_s, writing));
  parts.push_back(coupling_part(condition.coupling, writing));
  if (condition.bed) parts.push_back(bed_part(*condition.bed, writing));
  for (const AttachedCondition& each : condition.attached) parts.push_back(attached_part(each, shown.sensors, writing));
  parts.push_back(reach_part(condition.reach, writing));
  parts.push_back(jobs_part(shown, writing));
  if (!shown.brought_in.empty()) parts.push_back(brought_in_part(shown.brought_in, writing));
  return parts;
}

RigPart part_of(const SpeedAdvice& advice, const Shaft& shaft, const Words& words) {
  const Writing writing{words};
  const RigModelWords& texts = writing.texts;
  RigPart part{say(texts.shaft, shaft.id), {}};
  if (advice.speeds.empty()) {
    part.rows.emplace_back(texts.balance_at, texts.no_safe_speed);
    return part;
  }
  part.rows.emplace_back(texts.resonates_near, resonances_text(advice, writing));
  if (advice.best) {
    part.rows.emplace_back(texts.balance_best,
                           say(texts.best, writing.number(10.0 * std::floor(rpm(advice.best->speed_rad_s) / 10.0), 0),
                               writing.number(100.0 * coverage_factor * advice.best->u_relative, 0)));
  } else {
    part.rows.emplace_back(texts.balance_at,
                           say(texts.none_away, writing.number(std::floor(rpm(advice.speeds.back().speed_rad_s)), 0)));
  }
  return part;
}

}  // namespace counterspot
