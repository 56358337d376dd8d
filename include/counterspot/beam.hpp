#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "counterspot/shaft.hpp"

namespace counterspot {

/// An isotropic material. Handbook values: steel and stainless steel E, ρ as in the trade's tube tables (206.8 GPa,
/// 7850 kg/m³; 193 GPa, 8000 kg/m³), aluminium 6061 (68.9 GPa, 2700 kg/m³); G from Poisson's ratio 0.29, 0.29, 0.33
/// (any materials handbook).
struct Material {
  std::string name;
  double youngs_modulus_Pa = 0.0;
  double poisson_ratio = 0.0;  ///< 0 to 0.5
  double density_kg_m3 = 0.0;

  double shear_modulus_Pa() const { return youngs_modulus_Pa / (2.0 * (1.0 + poisson_ratio)); }
};

/// "steel", "stainless steel", "aluminium" (or "aluminum").
/// @throws Error(request, "no_such_material") that lists them.
Material material_named(std::string_view name);

/// m = ρ·π/4·(D² − d²)·L, kg, for a straight tube of one wall (the joints, yokes and beads are not in it).
double tube_mass_kg(const Tube& tube);

/// A stretch of the shaft of one round section. Positions along the axis in m, from any one origin.
struct BeamSection {
  double begin_m = 0.0;
  double end_m = 0.0;               ///< > begin_m
  double outside_diameter_m = 0.0;  ///< > 0
  double bore_m = 0.0;              ///< 0 for a solid bar; < outside_diameter_m
  Material material;
  double stiffness_fraction = 1.0;  ///< of the section's bending and shear stiffness, (0, 1]: below 1 for a slip spline
};

/// Something carried that does not stiffen: a yoke, half a joint, a flange.
struct BeamMass {
  double position_m = 0.0;
  double mass_kg = 0.0;                  ///< ≥ 0
  double diametral_inertia_kg_m2 = 0.0;  ///< about a diameter through the position, ≥ 0
  double polar_inertia_kg_m2 = 0.0;      ///< about the axis, ≥ 0
};

/// Where the shaft is held, alike in all directions across the axis.
struct BeamSupport {
  double position_m = 0.0;
  std::optional<double> stiffness_N_m;  ///< empty: does not give
  bool clamped = false;                 ///< true: slope held too
};

struct Beam {
  std::vector<BeamSection> sections;  ///< in order, without gaps
  std::vector<BeamMass> masses;
  std::vector<BeamSupport> supports;
};

/// at_rest: natural frequencies of bending, as rung with a hammer. forward: critical speeds, where the whirl goes round
/// with the shaft; a slice's rotary inertia then counts as I_d − I_p, which raises the speeds of slender tubes by some
/// tenths of a percent.
enum class Whirl { at_rest, forward };

struct BeamOptions {
  int elements = 40;  ///< over the whole length, 2 to 500; ends of sections, masses and supports add nodes
  int modes = 3;      ///< how many speeds are wanted, 1 to 20
  Whirl whirl = Whirl::forward;
};

struct BeamMode {
  double speed_rad_s = 0.0;              ///< 0 for a motion without bending (a beam that floats)
  double discretisation_fraction = 0.0;  ///< |change| of the speed when the elements are doubled, of the speed
  std::vector<double> shape;             ///< deflection at the nodes, largest 1
};

struct BeamSummary {
  double mass_kg = 0.0;  ///< sections and masses
  double center_of_mass_m = 0.0;
  std::vector<double> nodes_m;
  std::vector<BeamMode> modes;  ///< ascending; fewer than asked for if there are no more
};

/// Critical speeds of a straight round shaft by Timoshenko beam elements: K x = Ω² (M_t + s·M_r) x, s = +1 at rest and
/// −1 in forward whirl (I_p = 2 I_d for a slice; masses carry their own I_d − I_p). Element: two nodes, deflection and
/// slope, shape functions that satisfy the static equations (J. S. Przemieniecki, Theory of Matrix Structural Analysis,
/// 1968; Z. Friedman & J. B. Kosmatka, Computers & Structures 47(3), 1993, 473–481), consistent mass; shear coefficient
/// of the hollow circle by G. R. Cowper, J. Appl. Mech. 33, 1966, 335–340. Assumptions: small deflections, no damping,
/// no axial load or torque, supports alike in all directions and without mass. Accuracy with the default 40 elements,
/// against the exact solutions: a slender uniform beam within 0.01 % up to the third speed (the error goes with the
/// fourth power of the element's length); a stout tube of seven diameters (150 by 100 mm, 1 m) within 0.003 % at the
/// first, 0.04 % at the second and 0.15 % at the third speed (measured 0.0023, 0.030 and 0.117 % in forward whirl,
/// 0.0021, 0.026 and 0.095 % at rest, quartered with every doubling of the elements). `discretisation_fraction` says it
/// for the shaft at hand: there it is three quarters of the error. Failure: a beam that cannot be built is an error;
/// fewer modes than asked for is no failure.
/// @throws Error(request, "bad_beam") that says which section, mass or support.
BeamSummary critical_speeds(const Beam& beam, const BeamOptions& options = {});

/// The shaft as its file describes it in brief: the tube in the middle between the supports, what the shaft weighs
/// beyond its tube as one mass at each end of the tube in equal parts, and stubs as stiff as the tube from its ends to
/// the supports, weightless.
/// @throws Error(request, "no_tube") without `[tube]`, "no_supports", "bad_beam".
Beam beam_of(const Shaft& shaft);

/// How a speed lies against the first critical speed. Magnification of a rotor's bending is 1/(1 − (Ω/ω₁)²) (one degree
/// of freedom, any vibrations textbook); the 75 % is common practice, no source.
inline constexpr double largest_speed_fraction = 0.75;
enum class SpeedStanding { well_below, near, above };
SpeedStanding speed_standing(double speed_rad_s,
                             double critical_rad_s);  ///< near: from 75 % of the critical speed up to 125 %

}  // namespace counterspot
