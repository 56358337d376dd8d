#pragma once

#include <optional>
#include <string_view>
#include <vector>

#include "counterspot/model/beam_parts.hpp"
#include "counterspot/model/shaft.hpp"

namespace counterspot {

/// "steel", "stainless steel", "aluminium" (or "aluminum").
/// @throws Error(request, "no_such_material") that lists them.
Material material_named(std::string_view name);

/// m = ρ·π/4·(D² − d²)·L, kg, for a straight tube of one wall (the joints, yokes and beads are not in it).
double tube_mass_kg(const Tube& tube);

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
  bool with_discretisation = true;  ///< false: `discretisation_fraction` is left at 0, in an eighth of the time
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

double mass_of(const Beam& beam);  ///< kg, sections and masses

/// The shaft as its file describes it. What is not stated in sections, masses and supports is taken in brief: the tube
/// in the middle between the supports, what the shaft weighs beyond its tube as one mass at each end of the tube in
/// equal parts, and stubs as stiff as the tube from its ends to the supports, weightless. Stated sections carry stated
/// masses only.
/// @throws Error(request, "no_tube") without tube and sections, "no_supports", "bad_beam".
Beam beam_of(const Shaft& shaft);

/// The critical speeds of the shaft as its file describes it: the one answer that commands, job, page and verdict rest
/// on. Empty where tube (or sections) or supports are not stated.
/// @throws Error as critical_speeds.
std::optional<BeamSummary> bending_of(const Shaft& shaft, const BeamOptions& options = {});

/// The first that is not a motion without bending of a beam that floats.
std::optional<double> first_critical_rad_s(const BeamSummary& beam);

/// How a speed lies against the first critical speed. Magnification of a rotor's bending is 1/(1 − (Ω/ω₁)²) (one degree
/// of freedom, any vibrations textbook); the 75 % is common practice, no source.
inline constexpr double largest_speed_fraction = 0.75;

/// 75 % of the first critical speed of the shaft; empty where it cannot be computed.
/// @throws Error as critical_speeds.
std::optional<double> safe_speed_rad_s(const Shaft& shaft);

enum class SpeedStanding { well_below, near, above };
SpeedStanding speed_standing(double speed_rad_s,
                             double critical_rad_s);  ///< near: from 75 % of the critical speed up to 125 %

}  // namespace counterspot
