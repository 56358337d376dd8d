#pragma once

#include <optional>
#include <vector>

#include "counterspot/job/job.hpp"
#include "counterspot/job/rig_work.hpp"
#include "counterspot/rig_model/rig_condition.hpp"
#include "counterspot/rig_model/rig_model.hpp"

namespace counterspot {

/// Of the newest jobs on a rig, so many teach: a rig ages.
inline constexpr int rig_teachers_at_most = 40;

/// What may have taught something of a rig.
struct RigTeachers {
  std::vector<Job> jobs;                ///< the newest first
  std::vector<RigWork> qualifications;  ///< the oldest first; one that passed knows its reference shaft's coefficients
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

}  // namespace counterspot
