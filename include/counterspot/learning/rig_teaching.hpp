#pragma once

#include <Eigen/Core>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/learning/shaft_spins.hpp"
#include "counterspot/rig_model/rig_condition.hpp"
#include "counterspot/rig_model/rig_model.hpp"

namespace counterspot {

/// Of the newest jobs on a rig, so many teach: a rig ages.
inline constexpr int rig_teachers_at_most = 40;

/// What a qualification that passed found of its reference shaft.
struct ReferenceShaft {
  std::string uid;  ///< of the qualification
  std::int64_t at_unix_s = 0;
  Kept<Rig> rig_file;
  Kept<Shaft> shaft_file;
  double speed_rad_s = 0.0;
  std::vector<Motion> motions;    ///< one per sensor
  Eigen::Matrix2cd coefficients;  ///< sensor × plane, SI per kg·m
};

/// What may have taught something of a rig.
struct RigTeachers {
  std::vector<ShaftSpins> jobs;                ///< the newest first
  std::vector<ReferenceShaft> qualifications;  ///< the oldest first
  std::vector<RigLesson> brought_in = {};  ///< from another log, of jobs that are not among `jobs`; the oldest first
};

/// The lessons of all of them, oldest first.
std::vector<RigLesson> lessons_of(const RigTeachers& teachers, const Rig& rig, const std::vector<Motion>& motions);

/// What they taught of it. Those with other sensors or other kinds of motion teach nothing.
/// @param options what is known of the pedestals is taken from the rig. @return empty if nothing was taught.
std::optional<RigModel> taught_by(const RigTeachers& teachers, const Rig& rig, const std::vector<Motion>& motions,
                                  RigLearningOptions options = {});

/// Which balancing speed suits a shaft on this rig: from 400 rpm (common practice, no source) up to what is safe for
/// the shaft, its service speed, and the fastest spin that taught something of the rig.
/// @throws Error(request, "no_body") if the shaft's file does not say how it moves.
SpeedAdvice advised_speed(const RigModel& model, const Shaft& shaft);

/// Does the model describe this rig? One sensor at each of two supports, A before B.
bool has_rig_model(const Rig& rig);
/// And do readings of these kinds teach it anything? Volts of unknown worth tell no mass.
bool has_rig_model(const Rig& rig, const std::vector<Motion>& motions);

}  // namespace counterspot
