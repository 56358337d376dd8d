#include "counterspot/solve/assessment.hpp"

#include "counterspot/shaft/beam.hpp"
#include "counterspot/tolerance/tolerance.hpp"

namespace counterspot {

namespace {

Limits limits_or_none(const Shaft& shaft) {
  if (shaft.grade.empty() && shaft.limits_kg_m.empty()) return {};
  return limits_of(shaft);
}

/// Coefficients of an earlier solution, and what its shaft read as found, α·U.
void add_earlier(const Solution& earlier, TrialBasis& basis) {
  const std::size_t planes = earlier.influence.planes.size();
  basis.coefficients = values_of(earlier.influence.coefficients);
  for (std::size_t s = 0; s * planes < basis.coefficients.size(); ++s) {
    Phasor reading = 0.0;
    for (std::size_t p = 0; p < planes; ++p)
      reading += basis.coefficients[s * planes + p] * earlier.influence.planes[p].as_found_kg_m;
    basis.as_found.push_back(reading);
  }
}

void choose_trials(const Shaft& shaft, const AssessmentOptions& options, Assessment& assessment) {
  if (!assessment.balancing_speed_rad_s) return;
  TrialBasis basis;
  basis.speed_rad_s = *assessment.balancing_speed_rad_s;
  basis.clamp_holds_N = options.clamp_holds_N;
  basis.stock = options.stock;
  if (options.earlier != nullptr && options.earlier->influence.planes.size() == shaft.planes.size())
    add_earlier(*options.earlier, basis);
  for (std::size_t p = 0; p < shaft.planes.size(); ++p) {
    const auto plan = plan_trial(shaft, p, basis);
    if (const auto* trial = std::get_if<PlannedTrial>(&plan)) assessment.trials.push_back(*trial);
  }
}

void judge_bow(const Shaft& shaft, const Limits& limits, Assessment& assessment) {
  StraightnessOptions options;
  if (shaft.indicator_limit_m) options.indicator_limit_m = *shaft.indicator_limit_m;
  assessment.indicator_limit_m = options.indicator_limit_m;
  if (shaft.dial_stations.empty()) return;
  assessment.straightness = fit_straightness(shaft.dial_stations, options);
  if (shaft.planes.size() < 2) return;
  const Plane& first = shaft.planes.front();
  const Plane& last = shaft.planes.back();
  const BowUnbalance bow =
      unbalance_of_bow(*assessment.straightness, beam_of(shaft), first.position_m, last.position_m);
  assessment.bow = {{first.name, bow.a_kg_m, limit_of(limits, first.name)},
                    {last.name, bow.b_kg_m, limit_of(limits, last.name)}};
}

}  // namespace

bool Assessment::fit_to_spin() const {
  if (straightness && !straightness->within) return false;
  for (const auto& standing : {service_standing, balancing_standing})
    if (standing && *standing != SpeedStanding::well_below) return false;
  return true;
}

Assessment assess_shaft(const Shaft& shaft, const AssessmentOptions& options) {
  const Limits limits = limits_or_none(shaft);
  Assessment assessment;
  if (shaft.tube) assessment.tube_kg = tube_mass_kg(*shaft.tube);
  assessment.beam = critical_speeds(beam_of(shaft));
  assessment.critical_rad_s = first_critical_rad_s(assessment.beam);
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
  judge_bow(shaft, limits, assessment);
  if (shaft.joints) assessment.joints = joint_words(*shaft.joints);
  choose_trials(shaft, options, assessment);
  return assessment;
}

}  // namespace counterspot
