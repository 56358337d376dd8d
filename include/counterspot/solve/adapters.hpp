#pragma once

#include <Eigen/Core>
#include <array>
#include <string>

#include "counterspot/influence/influence.hpp"
#include "counterspot/model/shaft.hpp"

namespace counterspot {

/// The unbalance of a rig's adapters (flanges, arbors, chucks) at its supports A and B, from the adapters' own mark;
/// what a rig keeps from an index balancing (ISO 21940-14) and takes away from the shafts after it.
struct Adapters {
  std::array<Phasor, 2> unbalance_kg_m;
  Eigen::Matrix4d covariance = Eigen::Matrix4d::Zero();  ///< of (Re A, Im A, Re B, Im B), (kg·m)²
};

/// From the planes of the shaft they were found with to the supports, and to the planes of another shaft (of several
/// ways the one of least unbalance). Both as a rigid rotor carries: same sum, same moment.
/// @throws Error(request, "no_supports") without [supports]; (request, "too_few_planes") to one plane.
Adapters adapters_at_supports(const AdapterShare& share, const Shaft& shaft);
AdapterShare adapters_in_planes(const Adapters& adapters, const Shaft& shaft);

/// As a rig's record keeps them, JSON; every number comes back bit for bit. @throws Error(request, "bad_record").
std::string text_of(const Adapters& adapters);
Adapters adapters_of(const std::string& text);

}  // namespace counterspot
