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

/// Of what is not known well, how badly: a number of it would be read as if it were.
std::string known_or_not(const Estimate& estimate, double factor, const std::string& unit) {
  const double expanded = coverage_factor * estimate.u;
  if (is_known(estimate)) return measured_text(factor * estimate.value, factor * expanded) + " " + unit;
  const double size = estimate.scale > 0.0 ? estimate.scale : std::abs(estimate.value);
  return fmt::format("not known yet (± {:.0f} %)", std::min(999.0, 100.0 * expanded / size));
}

std::string angle_or_not(const Estimate& angle_rad) {
  if (!is_known(angle_rad)) return "not known yet";
  return measured_text(degrees(angle_rad.value), degrees(coverage_factor * angle_rad.u)) + " deg";
}

RigPart part_of(const PedestalCondition& pedestal, const std::optional<PedestalDrift>& drift, const std::string& name,
                double speed_rad_s) {
  RigPart part{"PEDESTAL " + name, {}};
  part.rows = {{"moving mass", known_or_not(pedestal.moving_mass_kg, 1.0, "kg")},
               {"natural frequency", known_or_not(pedestal.natural_frequency_Hz, 1.0, "Hz, with no shaft on it")},
               {"damping", known_or_not(pedestal.damping_ratio, 100.0, "% of critical")},
               {"dynamic stiffness", known_or_not(pedestal.dynamic_stiffness_N_m, 1e-6,
                                                  fmt::format("N/um at {:.0f} rpm", rpm(speed_rad_s)))},
               {"its sensor reads", known_or_not(pedestal.sensor_gain, 100.0, "% of what is there")},
               {"its sensor stands at", angle_or_not(pedestal.sensor_angle_rad)}};
  part.rows.emplace_back("drift",
                         !drift ? "not known before 8 jobs"
                                : fmt::format("{:+.1f} % in the newest jobs, ± {:.1f} %", 100.0 * drift->change.value,
                                              100.0 * coverage_factor * drift->change.u));
  return part;
}

RigPart coupling_part(const std::array<Estimate, 3>& coupling) {
  const std::string of_pedestals = "% of the pedestals' own";
  return {"COUPLING of the pedestals through the base",
          {{"stiffness", known_or_not(coupling[0], 100.0, of_pedestals)},
           {"mass", known_or_not(coupling[1], 100.0, of_pedestals)},
           {"damping", known_or_not(coupling[2], 100.0, of_pedestals)}}};
}

RigPart bed_part(const BedCondition& bed) {
  return {"BED, which moves on its feet",
          {{"mass", known_or_not(bed.mass_kg, 1.0, "kg")},
           {"moves up and down", known_or_not(bed.moves_Hz, 1.0, "Hz by itself")},
           {"tilts", known_or_not(bed.tilts_Hz, 1.0, "Hz by itself")}}};
}

RigPart attached_part(const AttachedCondition& attached, const std::array<std::string, 2>& sensors) {
  return {"SOMETHING THAT SWINGS on " + place_of(attached, sensors),
          {{"mass", known_or_not(attached.mass_kg, 1.0, "kg")},
           {"swings", known_or_not(attached.swings_Hz, 1.0, "Hz by itself")}}};
}

RigPart reach_part(const std::vector<Reach>& reach) {
  RigPart part{"FORETOLD before the first spin, for a plain tube with 5 kg at its ends", {}};
  for (const Reach& each : reach)
    part.rows.emplace_back(fmt::format("{:.1f} m between the supports, {:4.1f} kg, {:4.0f} rpm", each.span_m,
                                       each.mass_kg, rpm(each.speed_rad_s)),
                           fmt::format("± {:3.0f} %, {}", 100.0 * coverage_factor * each.u_relative, reach_name(each)));
  return part;
}

std::string reading_text(const PedestalReading& reading, const std::array<std::string, 2>& sensors) {
  std::string text;
  for (std::size_t p : {0U, 1U})
    text += fmt::format("{}{} {:+.0f} % ± {:.0f} %", p == 0 ? "" : ", ", sensors[p], 100.0 * reading.change[p].value,
                        100.0 * coverage_factor * reading.change[p].u);
  return text + (reading.set_aside ? "; set aside, see LOOK AT" : "");
}

/// What each says of the pedestals beside what all say.
RigPart jobs_part(const RigShown& shown) {
  RigPart part{"TAUGHT BY, with what each says of the pedestals' stiffness beside all others", {}};
  for (std::size_t a = 0; a < shown.teachers.size(); ++a) {
    const RigLesson& lesson = shown.model.lessons[a];
    part.rows.emplace_back(
        fmt::format("{} {}, {:.0f} rpm", utc_day(lesson.at_unix_s), shown.teachers[a], rpm(lesson.speed_rad_s)),
        reading_text(shown.condition.readings[a], shown.sensors));
  }
  return part;
}

RigPart brought_in_part(const std::vector<BroughtIn>& brought_in) {
  RigPart part{"BROUGHT IN from another log, and believed as if its jobs were here", {}};
  for (const BroughtIn& each : brought_in) {
    std::string shafts;
    for (const CarriedLesson& lesson : each.carried.lessons)
      shafts += (shafts.empty() ? "" : ", ") + lesson.shaft + " " + utc_day(lesson.lesson.at_unix_s);
    part.rows.emplace_back(
        fmt::format("{}, written {} by {}, brought in {}", each.file, utc_day(each.carried.written_unix_s),
                    each.carried.program, utc_day(each.at_unix_s)),
        fmt::format("shafts {}", shafts));
  }
  return part;
}

/// A job that was spun at several speeds is more than one lesson, and so are several qualifications.
std::string teachers_text(const RigShown& shown) {
  std::set<std::string> jobs(shown.teachers.begin(), shown.teachers.end());
  const bool qualified = jobs.erase(qualification_teacher) > 0;
  if (jobs.empty()) return "its qualification";
  std::set<std::string> brought_in;
  for (std::size_t a = 0; a < shown.teachers.size(); ++a)
    if (shown.model.lessons[a].brought_in) brought_in.insert(shown.teachers[a]);
  const std::string from = brought_in.empty() ? "" : fmt::format(", {} of them from another log", brought_in.size());
  return fmt::format("{} {}{}{}", jobs.size(), jobs.size() == 1 ? "job" : "jobs", from,
                     qualified ? " and its qualification" : "");
}

std::string resonances_text(const SpeedAdvice& advice) {
  std::string text;
  for (const Estimate& rate : advice.resonances_rad_s) {
    if (rate.value >= 2.0 * advice.speeds.back().speed_rad_s) continue;
    text +=
        (text.empty() ? "" : ", ") +
        (is_known(rate) ? measured_text(rpm(rate.value), rpm(coverage_factor * rate.u)) + " rpm" : "one not known yet");
  }
  return (text.empty() ? "no speed that it could be balanced at" : text) + ", on this rig";
}

}  // namespace

std::string heading_of(const RigShown& shown) {
  return fmt::format("a {} rig, learnt from {}, {} to {}", shown.model.kind == RigKind::hard ? "hard" : "soft",
                     teachers_text(shown), utc_day(shown.model.lessons.front().at_unix_s),
                     utc_day(shown.model.lessons.back().at_unix_s));
}

std::vector<RigPart> parts_of(const RigShown& shown) {
  std::vector<RigPart> parts;
  for (std::size_t p : {0U, 1U})
    parts.push_back(part_of(shown.condition.pedestals[p], shown.condition.drift[p], shown.sensors[p],
                            shown.condition.usual_speed_rad_s));
  parts.push_back(coupling_part(shown.condition.coupling));
  if (shown.condition.bed) parts.push_back(bed_part(*shown.condition.bed));
  for (const AttachedCondition& each : shown.condition.attached) parts.push_back(attached_part(each, shown.sensors));
  parts.push_back(reach_part(shown.condition.reach));
  parts.push_back(jobs_part(shown));
  if (!shown.brought_in.empty()) parts.push_back(brought_in_part(shown.brought_in));
  return parts;
}

RigPart part_of(const SpeedAdvice& advice, const Shaft& shaft) {
  RigPart part{"SHAFT " + shaft.id, {}};
  if (advice.speeds.empty()) {
    part.rows.emplace_back("balance at",
                           "no speed to advise: none from 400 rpm on is safe for it, no faster than its service, and "
                           "known on this rig");
    return part;
  }
  part.rows.emplace_back("resonates near", resonances_text(advice));
  if (advice.best) {
    part.rows.emplace_back(
        "BALANCE at", fmt::format("{:.0f} rpm: away from these, and read well; coefficients foretold to ± {:.0f} %",
                                  10.0 * std::floor(rpm(advice.best->speed_rad_s) / 10.0),
                                  100.0 * coverage_factor * advice.best->u_relative));
  } else {
    part.rows.emplace_back("balance at",
                           fmt::format("no speed to advise: none up to {:.0f} rpm is surely 30 % away from these",
                                       std::floor(rpm(advice.speeds.back().speed_rad_s))));
  }
  return part;
}

}  // namespace counterspot
