#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/guide/carried_lessons.hpp"
#include "counterspot/learning/learning.hpp"
#include "counterspot/learning/rig_teaching.hpp"
#include "counterspot/log/log.hpp"
#include "counterspot/rig_model/rig_condition.hpp"

namespace counterspot {

/// What the jobs of a log, and its qualifications, taught of a rig. It is kept in the log and learnt anew when what it
/// was learnt from has changed: another job, another entry of one, another qualification, another [pedestal].
/// @param rig by its name. @param except uids of jobs that do not teach: the one in work.
/// @return empty if nothing was taught, or the rig is none that the model describes.
std::optional<RigModel> learnt_rig(const Log& log, const Rig& rig, const std::vector<Motion>& motions,
                                   const std::vector<std::string>& except = {});

/// What it was or would be learnt from now, the oldest first, as each lesson is by itself.
std::vector<RigLesson> lessons_learnt_from(const Log& log, const Rig& rig);

inline constexpr const char* qualification_teacher = "qualification";

/// What a rig taught, as its owner is shown it.
struct RigShown {
  std::string rig;
  std::array<std::string, 2> sensors;
  RigModel model;
  std::vector<std::string> teachers;  ///< of each lesson: the job's name, or `qualification_teacher`
  RigCondition condition;
  std::vector<BroughtIn> brought_in;  ///< from other logs
};
/// @throws Error(request, "nothing_learnt").
RigShown shown_rig(const Log& log, const Rig& rig);

/// The rig as the newest job on it, or else its newest work, has it; the newest of all if `name` is empty.
/// @throws Error(request, "no_such_rig").
Rig newest_rig(const Log& log, const std::string& name);

/// The earlier jobs of a log, for prior_from.
class JobsInLog : public EarlierJobs {
 public:
  /// @param except uids of jobs that do not teach.
  JobsInLog(const Log& log, std::vector<std::string> except) : log_(log), except_(std::move(except)) {}
  std::vector<ShaftSpins> of_shafts_like(const Rig& rig, const Shaft& shaft, double unlike_at_most) const override;
  std::optional<RigModel> rig_model(const Rig& rig, const std::vector<Motion>& motions) const override;

 private:
  const Log& log_;
  std::vector<std::string> except_;
};

/// For spins that are in no job: what a log taught. Earlier jobs of the same shaft do not teach: their spins may be the
/// same.
std::optional<FamilyPrior> prior_from(const Log& log, const Rig& rig, const Shaft& shaft, const MeasuredSpins& spins);

}  // namespace counterspot
