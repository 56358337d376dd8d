#pragma once

#include <optional>
#include <vector>

#include "counterspot/model/dial.hpp"
#include "counterspot/shaft/beam.hpp"
#include "counterspot/units/angle.hpp"

namespace counterspot {

/// Common practice, no source: total indicator reading within 0.010 in all along the tube.
inline constexpr double common_indicator_limit_m = 0.010 * 0.0254;

/// The fit at one station: height(β) = zero + Re(bow·e^{−jβ}) [+ Re(out_of_round·e^{−2jβ})], least squares; the second
/// order is fitted from six different angles on, so that an oval tube does not pass for a bent one.
struct StationFit {
  double position_m = 0.0;
  Phasor bow_m;                    ///< how far and to which shaft angle the tube's centre lies off the axis
  Phasor out_of_round_m;           ///< 0 if not fitted
  double indicator_total_m = 0.0;  ///< largest less smallest reading
  /// Standard uncertainty of each part of the bow, from the scatter; empty without scatter to judge by.
  std::optional<double> u_bow_m;
};

/// Where to press, and by how much, if the tube is pressed once.
struct Straightening {
  double position_m = 0.0;
  double high_side_rad = 0.0;  ///< shaft angle of the high side: press there, towards the axis
  double bow_m = 0.0;          ///< how far the centre must move
};

struct StraightnessOptions {
  double indicator_limit_m = common_indicator_limit_m;  ///< > 0
};

struct StraightnessSummary {
  std::vector<StationFit> stations;  ///< in order of position
  double worst_indicator_total_m = 0.0;
  std::size_t worst_station = 0;
  bool within = false;                      ///< every indicator total is at or under the limit
  std::optional<Straightening> straighten;  ///< if not within
};

/// Dial readings to a bow. Assumptions: the shaft turns about the axis through its supports while it is read; slow,
/// without whirl. The sign: where the tube's centre lies off the axis, the surface there stands higher.
/// @throws Error(request, …) "too_few_readings" (under three different angles at a station, or angles that do not tell
/// the parts
///         apart), "no_readings".
StraightnessSummary fit_straightness(std::vector<DialStation> stations, const StraightnessOptions& options = {});

/// The unbalance that a bow alone makes in each of two planes, of a rigid rotor:
/// U_A = ∫ μ(z) e(z) (z_B − z)/(z_B − z_A) dz and U_B likewise, with μ the mass per length and e the bow, straight
/// between the stations, and zero at each support (a station there overrides) and beyond it. Departure: bending under
/// the load itself is left out; near a critical speed multiply by about 1/(1 − (Ω/ω₁)²).
struct BowUnbalance {
  Phasor a_kg_m;
  Phasor b_kg_m;
};
BowUnbalance unbalance_of_bow(const StraightnessSummary& fit, const Beam& beam, double plane_a_m, double plane_b_m);

}  // namespace counterspot
