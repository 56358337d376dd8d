#include "counterspot/shaft/trial.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/shaft/beam.hpp"
#include "counterspot/tolerance/tolerance.hpp"
#include "counterspot/units/error.hpp"
#include "counterspot/units/units.hpp"

namespace counterspot {

double pull_N(double mass_kg, double radius_m, double speed_rad_s) {
  return mass_kg * radius_m * speed_rad_s * speed_rad_s;
}

std::string_view trial_rule_name(TrialRule rule) {
  switch (rule) {
    case TrialRule::coefficient: return "changes the reading by 30 %";
    case TrialRule::support_load: return "pulls with 10 % of the weight on the support";
    case TrialRule::limit: return "twice the permissible residual unbalance";
    case TrialRule::room: return "all that the plane may carry";
    case TrialRule::least_limit: return "as much as the permissible residual unbalance";
  }
  return "";
}

std::optional<GentlerStart> gentler_start(const TrialWeight& weight, double speed_rad_s) {
  constexpr double most_pull_over_load = 0.5;
  if (!weight.pull_over_load || *weight.pull_over_load <= most_pull_over_load) return std::nullopt;
  const double share = most_pull_over_load / *weight.pull_over_load;
  return GentlerStart{weight.mass_kg * share, speed_rad_s * std::sqrt(share)};
}

void check_pull(std::string_view what, double pull, std::optional<double> clamp_holds_N) {
  if (!clamp_holds_N || pull <= *clamp_holds_N) return;
  throw Error(
      Trouble::request, "pull_too_great",
      fmt::format("{} would pull with {:.0f} N ({:.0f} lbf), and its clamp is stated to hold {:.0f} N ({:.0f} lbf)",
                  what, pull, pull / newtons_per_lbf, *clamp_holds_N, *clamp_holds_N / newtons_per_lbf),
      "spin slower, fit less, or fit it with something that holds more");
}

TrialWeight choose_trial(const TrialQuestion& q) {
  if (!(q.radius_m > 0.0))
    throw Error(Trouble::request, "bad_radius", "plane " + q.plane + " has no radius",
                "state the radius at which weights sit");
  if (!(q.speed_rad_s > 0.0))
    throw Error(Trouble::request, "bad_speed", "there is no balancing speed", "state the speed of the balancing spins");
  const double limit = q.limit_kg_m.value_or(0.0);
  double unbalance_kg_m = 0.0;
  TrialRule rule{};
  if (q.coefficient_magnitude && q.reading && *q.coefficient_magnitude > 0.0) {
    unbalance_kg_m = 0.3 * *q.reading / *q.coefficient_magnitude;
    rule = TrialRule::coefficient;
    if (unbalance_kg_m < limit) {
      unbalance_kg_m = limit;
      rule = TrialRule::least_limit;
    }
  } else {
    const double by_load =
        0.1 * q.support_load_kg.value_or(0.0) * standard_gravity_m_s2 / (q.speed_rad_s * q.speed_rad_s);
    unbalance_kg_m = std::max(by_load, 2.0 * limit);
    rule = by_load > 2.0 * limit ? TrialRule::support_load : TrialRule::limit;
  }
  if (!(unbalance_kg_m > 0.0))
    throw Error(Trouble::request, "no_basis", "nothing is known to choose a trial weight for plane " + q.plane + " by",
                "state a limit or grade, or the shaft's mass and supports");
  const double mass_kg = unbalance_kg_m / q.radius_m;
  if (q.room_kg && mass_kg > *q.room_kg) return trial_of(q, *q.room_kg, TrialRule::room);
  return trial_of(q, mass_kg, rule);
}

TrialWeight trial_of(const TrialQuestion& q, double mass_kg, TrialRule rule) {
  TrialWeight trial{mass_kg, 0.0, 0.0, rule, {}};
  trial.pull_N = pull_N(trial.mass_kg, q.radius_m, q.speed_rad_s);
  trial.pull_lbf = trial.pull_N / newtons_per_lbf;
  if (q.support_load_kg && *q.support_load_kg > 0.0)
    trial.pull_over_load = trial.pull_N / (*q.support_load_kg * standard_gravity_m_s2);
  check_pull(fmt::format("a trial weight of {:.1f} g at plane {}", trial.mass_kg * 1e3, q.plane), trial.pull_N,
             q.clamp_holds_N);
  return trial;
}

}  // namespace counterspot
