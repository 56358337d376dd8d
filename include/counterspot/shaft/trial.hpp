#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace counterspot {

/// F = m·r·Ω², N: what a weight pulls with.
double pull_N(double mass_kg, double radius_m, double speed_rad_s);

/// What is known when a trial weight is to be chosen for one plane.
struct TrialQuestion {
  std::string plane;
  double radius_m = 0.0;                        ///< > 0
  double speed_rad_s = 0.0;                     ///< balancing speed, > 0
  std::optional<double> limit_kg_m;             ///< permissible residual unbalance at the plane
  std::optional<double> support_load_kg;        ///< mass that the nearer support carries
  std::optional<double> coefficient_magnitude;  ///< |α| of the sensor that feels this plane most, SI of the sensor per
                                                ///< kg·m, from earlier jobs
  std::optional<double> reading;                ///< that sensor as found, same SI unit, peak
  std::optional<double> clamp_holds_N;          ///< the pull that the clamp is stated to hold
  std::optional<double> room_kg = {};           ///< what the plane may still carry, > 0
};

enum class TrialRule {
  coefficient,   ///< changes the reading by 30 %
  support_load,  ///< pulls with 10 % of the weight that the support carries
  limit,         ///< twice the permissible residual unbalance
  room,          ///< all that the plane may carry; the other rules ask for more
  least_limit,   ///< as much as the permissible residual unbalance: 30 % of the reading would be less
};
std::string_view trial_rule_name(TrialRule rule);

struct TrialWeight {
  double mass_kg = 0.0;
  double pull_N = 0.0;
  double pull_lbf = 0.0;
  TrialRule rule = TrialRule::limit;
  std::optional<double> pull_over_load;  ///< pull over the weight that the support carries
};

/// A mass to begin with. With earlier coefficients and a reading: the mass that changes the reading by 30 %, and no
/// less than makes the permissible residual unbalance. Without: the larger of a pull of 10 % of the support's weight
/// and of twice the permissible residual unbalance (coarse grades let pass more than 10 % of the weight, so the first
/// alone would be lost in what is found). All three are common practice, no source; the true effect is only known after
/// the spin.
/// @throws Error(request, …) "no_basis" (nothing known to choose by), "pull_too_great" (the clamp is stated to hold
/// less),
///         "bad_radius", "bad_speed".
TrialWeight choose_trial(const TrialQuestion& question);

/// What to begin with where a trial weight pulls with more than half of the weight on its support (common practice, no
/// source): the mass, or the speed, with which it is half.
struct GentlerStart {
  double mass_kg = 0.0;
  double speed_rad_s = 0.0;
};
std::optional<GentlerStart> gentler_start(const TrialWeight& weight, double speed_rad_s);

/// The same said of a mass that the rule led to. @throws Error(request, "pull_too_great").
TrialWeight trial_of(const TrialQuestion& question, double mass_kg, TrialRule rule);

/// The same refusal for a mass that someone else chose. @throws Error(request, "pull_too_great").
void check_pull(std::string_view what, double pull_N, std::optional<double> clamp_holds_N);

}  // namespace counterspot
