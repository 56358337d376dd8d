#pragma once

#include <vector>

#include "counterspot/learning/rig_teaching.hpp"
#include "counterspot/rig_model/rig_model.hpp"

namespace counterspot {

/// As dynamics_of; also empty where the file describes a beam that cannot be.
std::optional<ShaftDynamics> body_of(const Shaft& shaft);

/// The shortest coefficients that explain what the spins changed by: right in size, which is all that is asked of it.
/// @return (Re α_11, Im α_11, …), sensor-major.
Eigen::VectorXd shortest_coefficients(const std::vector<SpinReading>& spins, Eigen::Index planes);

/// What one job taught of the rig, a lesson for each speed at which its weights were changed; empty if nothing.
/// @param motions of the sensors; jobs read in others teach nothing.
/// @param known θ of before, for the size of the setting errors where the job's own spins do not give it.
std::vector<RigLesson> lessons_of(const ShaftSpins& job, const Rig& rig, const std::vector<Motion>& motions,
                                  const RigModel* known = nullptr);

/// What a qualification taught: the coefficients of its reference shaft, each known to what a test mass may be set
/// wrong by. Empty of one with other sensors or kinds of motion.
std::optional<RigLesson> lesson_of(const ReferenceShaft& reference, const Rig& rig, const std::vector<Motion>& motions);

}  // namespace counterspot
