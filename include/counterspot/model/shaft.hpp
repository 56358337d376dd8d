#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/model/beam_parts.hpp"
#include "counterspot/model/dial.hpp"
#include "counterspot/model/joints.hpp"
#include "counterspot/model/place.hpp"

namespace counterspot {

/// A place along the shaft where weights go.
struct Plane {
  std::string name;
  double position_m = 0.0;                ///< along the axis, same origin as the supports
  double radius_m = 0.0;                  ///< where a weight's centre of mass sits; > 0
  std::optional<double> at_most_kg = {};  ///< the heaviest correction that may be fitted here
};

struct Tube {
  double outside_diameter_m = 0.0;
  double wall_m = 0.0;
  double length_m = 0.0;
  std::string material = "steel";
};

struct Supports {
  double a_m = 0.0;
  double b_m = 0.0;                        ///< ≠ a_m
  std::optional<double> center_of_mass_m;  ///< middle of the supports if absent
  std::optional<double> c_m = {};          ///< of a centre support between them: a shaft of two pieces, joined there
};

std::vector<Support> supports_of(const Supports& supports);  ///< from end A to end B

/// How a rigid rotor carries a unit of unbalance at a place to a support that there is: (z_other − z)/(z_other −
/// z_support). A shaft of two pieces carries it to the ends of the piece that the place is on.
double lever_to_support(const Supports& supports, Support support, double position_m);

/// All that a shaft's file says of it.
struct Shaft {
  std::string id;
  std::optional<double> mass_kg;
  std::optional<double> service_speed_rad_s;
  std::string grade;                          ///< "G16"; empty if limits are typed
  std::map<std::string, double> limits_kg_m;  ///< plane name → permissible residual unbalance, if typed
  std::optional<Tube> tube;
  std::optional<Supports> supports;
  std::optional<Joints> joints;
  std::vector<Plane> planes;
  std::vector<BeamSection> sections;  ///< as stated; empty: the tube in the middle between the supports
  std::vector<BeamMass> masses;       ///< as stated; empty: what the shaft weighs beyond its tube, at the tube's ends
  std::vector<BeamSupport> bearings;  ///< where and how stiffly it is held, as stated; empty: at `supports`, not giving
  std::vector<DialStation> dial_stations;   ///< empty if nothing was read
  std::optional<double> indicator_limit_m;  ///< of the dial readings, > 0; the common one if not stated
};

}  // namespace counterspot
