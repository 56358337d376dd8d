#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "counterspot/job/job.hpp"
#include "counterspot/learning/rig_teaching.hpp"
#include "counterspot/rig/qualification.hpp"
#include "counterspot/solve/adapters.hpp"
#include "counterspot/units/refusal.hpp"

namespace counterspot {

/// Work on the rig itself, guided like a job: a list of what happened, oldest first, of which nothing is ever erased.
/// What it stands at is a fold over that list (`state_of`).

enum class RigTask {
  qualification,  ///< the 34 spins of `qualification_plan`
  check,          ///< daily: the reference shaft as it is, and with the known masses
  recalibration   ///< of the sensors: as it is, and with the known mass in each plane
};
/// "qualification", "check", "recalibration".
std::string_view rig_task_name(RigTask task);

/// What a passed qualification leaves for checks and recalibrations to be held against.
struct RigYardstick {
  std::string shaft;                  ///< the reference shaft
  std::int64_t at_unix_s = 0;         ///< when it was found
  double speed_rad_s = 0.0;           ///< at which
  std::vector<Motion> motions;        ///< one per sensor
  Eigen::Matrix2cd coefficients;      ///< sensor × plane, SI per kg·m
  std::array<Phasor, 2> bare;         ///< what the sensors read of the shaft without test masses, SI
  std::array<double, 2> umar_kg_m{};  ///< as found
  double remount_kg_m = 0.0;
  Adapters adapters;  ///< at the supports; zero if the reference shaft has none
};

struct RigCheck {
  bool within = false;
  std::vector<RigFinding> findings;  ///< sensors; adapters (how the bare shaft's reading moved)
  std::array<Phasor, 2> change;      ///< of each sensor: what it reads of the known masses over what it should
  std::array<Phasor, 2> moved_kg_m;  ///< the bare shaft's reading less that of the yardstick, in the planes
};

struct Recalibration {
  bool sound = false;                ///< sensitivities alone explain what has changed
  std::array<Phasor, 2> change;      ///< of each sensor, C's diagonal in α_now = C·α_record
  double cross_talk = 0.0;           ///< the largest of the rest
  std::vector<double> volts_per_si;  ///< the new sensitivities, one per sensor
  std::string words;                 ///< one sentence
};

using RigResult = std::variant<std::monostate, Qualification, RigCheck, Recalibration>;

/// A spin that answers a step of the plan.
struct RigSpun {
  int step = 0;  ///< index into the plan
  Spun spun;
  std::optional<std::vector<FittedWeight>> fitted;  ///< what was really fitted; empty: what was asked for
};

/// The end: with what all spins come to, or without, for a reason.
struct RigClosed {
  std::string reason;
  RigResult result;
};

using RigWhat = std::variant<RigSpun, TakenBack, RigClosed>;

struct RigEvent {
  int number = 0;  ///< 1, 2, 3, …
  std::int64_t at_unix_s = 0;
  std::string program;
  RigWhat what;
};

struct RigWork {
  std::string uid;  ///< 32 hexadecimal digits
  RigTask task = RigTask::qualification;
  std::int64_t opened_unix_s = 0;
  std::string program;
  Kept<Rig> rig_file;  ///< as they were at the opening
  Kept<Shaft> shaft_file;
  std::optional<RigYardstick> yardstick;  ///< of the last qualification that passed with this reference shaft
  std::vector<RigEvent> events;

  const Rig& rig() const { return rig_file.value(); }
  const Shaft& shaft() const { return shaft_file.value(); }
};

struct RigWorkState {
  bool open = true;
  std::vector<PlannedRigSpin> plan;
  std::vector<std::optional<RigEvent>> spins;  ///< one per step: the spin that stands
  int next = 0;                                ///< the first step without one; plan.size(): all are made
  std::optional<RigEvent> last_spin;           ///< the newest that stands, which can be taken back
  std::optional<RigEvent> closing;

  bool complete() const { return next == static_cast<int>(plan.size()); }
  /// What it came to, if it is finished and that is of this kind; lives as long as this state.
  template <typename Result>
  const Result* result() const {
    return closing ? std::get_if<Result>(&std::get<RigClosed>(closing->what).result) : nullptr;
  }
};
/// @throws Error(request, …) "no_claims" (the rig's file has no [qualification]), "not_two_planes".
RigWorkState state_of(const RigWork& work);

/// The plan of a check or a recalibration; of a qualification qualification_plan(). The known mass is 50 Umar.
std::vector<PlannedRigSpin> plan_of(RigTask task, const Rig& rig, const Shaft& reference);

/// @throws Error(request, "no_sensitivity") for a rig with a sensor that has none which could be put right.
void refuse_no_sensitivity(const Rig& rig);

/// May this work begin with these files? @throws Error(request, …) as plan_of, and refuse_no_sensitivity of a
/// recalibration.
void admit_beginning(RigTask task, const Rig& rig, const Shaft& reference);

/// May this happen now? @throws Error(request, …) "rig_work_closed", "wrong_sensors", "bad_reading", "mixed_motion",
/// "no_speed", "wrong_speed" (2.5 % beside what was asked), "bad_piece", "no_reason", "nothing_to_take_back".
void admit(const RigWork& work, const RigWhat& what);

/// What all spins come to. The state must be complete. @throws Error as `qualify`.
RigResult result_of(const RigWork& work);

/// What a qualification that passed leaves; empty of any other work.
std::optional<RigYardstick> yardstick_of(const RigWork& work);
/// The same as what it teaches of the rig.
std::optional<ReferenceShaft> reference_shaft_of(const RigWork& work);

/// How the reference shaft is to sit in its adapters.
enum class Mounting {
  mark_to_mark,  ///< put in with its mark at the adapters' mark
  left_alone,    ///< as it sits
  again          ///< taken out, and put in turned
};

/// One instruction, as a value: `step_words` (report/rig_step_words.hpp) says it to people.
struct RigStep {
  int number = 0;  ///< 1 … `of`; 0: all is made, or the work is closed, and no spin is asked for
  int of = 0;
  PlannedRigSpin spin;
  std::optional<double> speed_rad_s;  ///< empty: the balancing speed, which the first spin sets
  std::optional<Mounting> mounting;   ///< asked for in a qualification alone
  std::optional<RigClosed> closed;
  Refusal no_result;  ///< all is made, and cannot be judged
};
RigStep next_step(const RigWork& work);

}  // namespace counterspot
