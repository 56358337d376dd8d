#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "counterspot/log/log.hpp"
#include "counterspot/rig_model/rig_model.hpp"

namespace counterspot {

/// What a rig taught, carried to a log that does not have its jobs: the lessons themselves, so that they are learnt
/// from together with the jobs that are there.

struct CarriedSensor {
  std::string name;
  std::string channel;  ///< as the rig's file has it
  Motion motion = Motion::acceleration;
  bool operator==(const CarriedSensor&) const = default;
};

struct CarriedLesson {
  std::string job;    ///< its name in the log that it comes from
  std::string shaft;  ///< its id
  RigLesson lesson;
};

struct CarriedLessons {
  std::string rig;
  std::string rotation;
  std::array<CarriedSensor, 2> sensors;
  std::string program;  ///< that wrote them
  std::int64_t written_unix_s = 0;
  std::vector<CarriedLesson> lessons;  ///< the oldest first
};

/// All that jobs of a log, its qualifications, and what was brought into it taught of a rig.
/// @throws Error(request, "nothing_learnt").
CarriedLessons lessons_to_carry(const Log& log, const Rig& rig, const std::string& program, std::int64_t at_unix_s);

/// Every number comes back bit for bit. @throws Error(request, "bad_lessons").
std::string carried_to_json(const CarriedLessons& carried);
CarriedLessons carried_of_json(const std::string& text);

/// Lessons in a log, and how they got there.
struct BroughtIn {
  std::string file;
  std::int64_t at_unix_s = 0;
  CarriedLessons carried;
};

/// Keeps them in the log, for this rig.
/// @throws Error(request, "other_rig") unless name, rotation, and both sensors' names, channels and kinds of motion are
/// those of the rig they are of; "nothing_new" if the log has all of these jobs or lessons already.
void bring_in(Log& log, const Rig& rig, const BroughtIn& lessons);

/// What was brought in for a rig and counts: each lesson once, and none of a job that the log has itself.
std::vector<BroughtIn> brought_in_of(const Log& log, const std::string& rig);

}  // namespace counterspot
