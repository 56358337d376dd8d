#include "counterspot/assessment.hpp"

#include <algorithm>

#include "counterspot/tolerance.hpp"

namespace counterspot {

namespace {

std::optional<double> first_critical(const BeamSummary& beam) {
  for (const BeamMode& mode : beam.modes)
    if (mode.speed_rad_s > 0.0) return mode.speed_rad_s;
  return std::nullopt;
}

Limits limits_or_none(const Shaft& shaft) {
  if (shaft.grade.empty() && shaft.limits_kg_m.empty()) return {};
  return limits_of(shaft);
}

std::optional<double> limit_at(const Limits& limits, const std::string& plane) {
  for (const PlaneLimit& limit : limits.planes)
    if (limit.name == plane) return limit.limit_kg_m;
  return std::nullopt;
}

/// The mass that the support nearer to the plane carries.
std::optional<double> load_at(const Shaft& shaft, const BeamSummary& beam, double position_m) {
  if (!shaft.supports) return std::nullopt;
  const Supports& s = *shaft.supports;
  const double mass_kg = shaft.mass_kg.value_or(beam.mass_kg);
  const double center_m = s.center_of_mass_m.value_or(0.5 * (s.a_m + s.b_m));
  const double share_b = (center_m - s.a_m) / (s.b_m - s.a_m);
  const bool near_a = std::abs(position_m - s.a_m) <= std::abs(position_m - s.b_m);
  const double load_kg = mass_kg * (near_a ? 1.0 - share_b : share_b);
  return load_kg > 0.0 ? std::optional(load_kg) : std::nullopt;
}

/// The sensor that feels the plane most in an earlier solution: its coefficient and its reading as found, α·U.
void take_earlier(const Solution& earlier, std::size_t plane, TrialQuestion& question) {
  const std::size_t planes = earlier.influence.planes.size();
  if (plane >= planes) return;
  const auto& coefficients = earlier.influence.coefficients;
  for (std::size_t s = 0; s * planes < coefficients.size(); ++s) {
    const double magnitude = std::abs(coefficients[s * planes + plane].value);
    if (magnitude <= question.coefficient_magnitude.value_or(0.0)) continue;
    Phasor reading = 0.0;
    for (std::size_t p = 0; p < planes; ++p)
      reading += coefficients[s * planes + p].value * earlier.influence.planes[p].as_found_kg_m;
    question.coefficient_magnitude = magnitude;
    question.reading = std::abs(reading);
  }
}

void choose_trials(const Shaft& shaft, const Limits& limits, const AssessmentOptions& options, Assessment& assessment) {
  if (!assessment.balancing_speed_rad_s) return;
  for (std::size_t p = 0; p < shaft.planes.size(); ++p) {
    const Plane& plane = shaft.planes[p];
    TrialQuestion question{plane.name,
                           plane.radius_m,
                           *assessment.balancing_speed_rad_s,
                           limit_at(limits, plane.name),
                           load_at(shaft, assessment.beam, plane.position_m),
                           {},
                           {},
                           options.clamp_holds_N};
    if (options.earlier != nullptr) take_earlier(*options.earlier, p, question);
    if (!question.limit_kg_m && !question.support_load_kg && !question.coefficient_magnitude) continue;
    assessment.trials.push_back({plane.name, plane.radius_m, choose_trial(question)});
  }
}

void judge_bow(const Shaft& shaft, const Limits& limits, const ShaftDetails& details, Assessment& assessment) {
  assessment.indicator_limit_m = details.straightness.indicator_limit_m;
  if (details.stations.empty()) return;
  assessment.straightness = fit_straightness(details.stations, details.straightness);
  if (shaft.planes.size() < 2) return;
  const Plane& first = shaft.planes.front();
  const Plane& last = shaft.planes.back();
  const BowUnbalance bow = unbalance_of_bow(*assessment.straightness, details.beam, first.position_m, last.position_m);
  assessment.bow = {{first.name, bow.a_kg_m, limit_at(limits, first.name)},
                    {last.name, bow.b_kg_m, limit_at(limits, last.name)}};
}

}  // namespace

bool Assessment::fit_to_spin() const {
  if (straightness && !straightness->within) return false;
  for (const auto& standing : {service_standing, balancing_standing})
    if (standing && *standing != SpeedStanding::well_below) return false;
  return true;
}

Assessment assess_shaft(const Shaft& shaft, const ShaftDetails& details, const AssessmentOptions& options) {
  const Limits limits = limits_or_none(shaft);
  Assessment assessment;
  if (shaft.tube) assessment.tube_kg = tube_mass_kg(*shaft.tube);
  assessment.beam = critical_speeds(details.beam);
  assessment.critical_rad_s = first_critical(assessment.beam);
  assessment.service_speed_rad_s = shaft.service_speed_rad_s;
  assessment.balancing_speed_rad_s =
      options.balancing_speed_rad_s ? options.balancing_speed_rad_s : shaft.service_speed_rad_s;
  if (assessment.critical_rad_s) {
    assessment.safe_speed_rad_s = largest_speed_fraction * *assessment.critical_rad_s;
    auto standing = [&](const std::optional<double>& speed) {
      return speed ? std::optional(speed_standing(*speed, *assessment.critical_rad_s)) : std::nullopt;
    };
    assessment.service_standing = standing(assessment.service_speed_rad_s);
    assessment.balancing_standing = standing(assessment.balancing_speed_rad_s);
  }
  judge_bow(shaft, limits, details, assessment);
  if (shaft.joints) assessment.joints = joint_words(*shaft.joints);
  choose_trials(shaft, limits, options, assessment);
  return assessment;
}

}  // namespace counterspot
