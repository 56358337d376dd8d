#pragma once

#include <Eigen/Core>
#include <cstdint>
#include <optional>
#include <set>
#include <string>
#include <variant>
#include <vector>

#include "counterspot/files/work_order.hpp"
#include "counterspot/influence/influence.hpp"
#include "counterspot/learning/shaft_spins.hpp"
#include "counterspot/model/kept.hpp"
#include "counterspot/model/rig.hpp"
#include "counterspot/model/shaft.hpp"
#include "counterspot/solve/solution.hpp"
#include "counterspot/tolerance/tolerance.hpp"

namespace counterspot {

/// One shaft's way over the rig. A job is the list of what happened, oldest first; nothing is ever erased. What the job
/// stands at is a fold over that list (`state_of`), so it is the same after a power cut, on the page and on the command
/// line.

/// What one sensor read in a spin, order 1.
struct SensorReading {
  std::string sensor;
  Motion motion = Motion::acceleration;
  Phasor value;                                          ///< SI, peak
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();  ///< of (Re, Im), SI²; zero: unknown
  SensorLevel level = {};
};

/// A warning as it was said then; its code may be one that a later program no longer knows.
struct SaidWarning {
  std::string code;
  std::string sensor;  ///< empty: of the whole spin
  std::string message;
};

/// What held a verdict back, as it was said then.
struct SaidReason {
  std::string code;
  std::string message;
  std::string remedy;
  std::vector<std::string> spins;    ///< labels; empty: of all
  std::vector<std::string> sensors;  ///< names
};

/// What was found at one plane, and what was advised.
struct PlaneFinding {
  std::string plane;
  Phasor residual_kg_m;
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();  ///< of (Re, Im), (kg·m)²; zero: unknown
  double correction_kg = 0.0;                            ///< ≥ 0
  double radius_m = 0.0;
  double angle_rad = 0.0;                ///< shaft angle, [0, 2π)
  double predicted_residual_kg_m = 0.0;  ///< root-mean-square of what a correction would leave
};

/// What the spins up to some moment said. Kept as it was said then, with the verdict.
struct Finding {
  Verdict verdict = Verdict::unsure;
  std::vector<PlaneFinding> planes;
  std::vector<Held> held;
  bool used_prior = false;  ///< coefficients of earlier shafts had a part in it
  std::vector<SaidReason> held_back = {};
  /// With `used_prior`: of how many earlier shafts the rig had learnt what foretold the coefficients; 0: not the rig,
  /// but shafts like this one told them.
  int rig_taught_by = 0;
  int brought_in = 0;  ///< of them, those whose lessons came from another log

  /// The largest residual over its limit; what control charts show.
  double worst_ratio() const;
};
Finding finding_of(const Solution& solution);
std::vector<SaidReason> reasons_of(const Warnings& held_back);

struct Spun {
  std::string label;
  std::vector<SensorReading> readings;  ///< in the rig's order
  std::optional<double> speed_rad_s;
  double speed_drift_fraction = 0.0;
  std::int64_t revolutions = 0;  ///< 0: typed in
  double duration_s = 0.0;
  std::string recording;  ///< its path; empty: typed in
  std::string sha256;     ///< of the recording, 64 hexadecimal digits; empty: typed in
  std::vector<SaidWarning> warnings;
  std::optional<Finding> finding;         ///< empty while the spins do not suffice
  std::optional<double> turned_rad = {};  ///< the shaft's mark from the adapters' mark, against the rotation
};

/// ALL weights that are on the shaft from now on and were not there as found.
struct Fitted {
  std::vector<FittedWeight> pieces;
};

/// An entry that was wrong. The entry stays, and no longer counts.
struct TakenBack {
  int number = 0;
  std::string reason;
};

struct Closed {
  std::optional<int> final_spin;   ///< the spin that stands as the final residual
  std::optional<Finding> finding;  ///< of that spin, with all that was known at the close
  std::string reason;              ///< must be given if there is no final spin
};

/// Who stands for the entries before this one (log/signature.hpp).
struct Signed {
  std::string by;          ///< the name that the key bears
  std::string public_key;  ///< 64 hexadecimal digits
  std::string signature;   ///< 128
};

/// What was said of the order after the job was opened, also after its close; what it leaves empty stays as it was.
struct Ordered {
  WorkOrder order;
};

using What = std::variant<Spun, Fitted, TakenBack, Closed, Signed, Ordered>;

/// "spin", "fit", "take back", "close", "sign", "order".
std::string_view kind_of(const What& what);

struct Event {
  int number = 0;  ///< 1, 2, 3, … in the job
  std::int64_t at_unix_s = 0;
  std::string program;  ///< name and version of the program that wrote it
  What what;
};

struct Job {
  std::string uid;   ///< the same in every log the job is copied to; 32 hexadecimal digits
  std::string name;  ///< "PS-1042/1": the shaft, and which of its jobs
  std::int64_t opened_unix_s = 0;
  std::string program;  ///< that opened it
  Kept<Rig> rig_file;   ///< as they were at the opening
  Kept<Shaft> shaft_file;
  std::vector<Event> events;
  std::string seal =
      {};  ///< of the last entry, as the log keeps it (log/seal.hpp); empty: of no log, or of an old export

  const Rig& rig() const { return rig_file.value(); }
  const Shaft& shaft() const { return shaft_file.value(); }
};

/// A spin that counts, with the weights that were on the shaft.
struct StandingSpin {
  int number = 0;
  Spun spun;
  std::vector<FittedWeight> fitted;
};

/// What of a job's entries decides which may follow.
struct JobStanding {
  bool open = true;
  std::set<int> taken_back;
  std::optional<int> last_change;  ///< the entry that last changed what is known to be on the shaft
  std::optional<int> closing;      ///< the entry that closed the job
  std::vector<int> signatures;     ///< entries that sign the closed job as it is: only signatures came behind them
  std::vector<int> counted_spins;  ///< entries that are spins and were not taken back

  /// The last spin, if it was made after the last change of weights: the only one whose residual may be called final.
  std::optional<int> final_spin() const;
};

struct JobState : JobStanding {
  std::vector<FittedWeight> on_shaft;
  std::vector<StandingSpin> spins;
  std::optional<int> last_stated;  ///< the last entry that counts and says what is on the shaft
};
JobState state_of(const std::vector<Event>& events);

/// Of a closed job.
const Closed& closing_in(const Job& job);

/// The order as it stands: of the shaft's file, with what was said later.
WorkOrder order_of(const Job& job);
/// Entries that speak of the order and count, and came behind the close.
std::vector<int> orders_after_close(const Job& job);

/// May this happen now? The log asks before it keeps an entry.
/// @throws Error(request, …) "job_moved_on" (its number is not the next), "job_closed", "wrong_sensors", "bad_piece",
/// "no_such_entry", "already_taken_back", "no_reason", "not_final" (a final spin made before the last change of
/// weights, or not the last one), "no_finding" (a final spin whose residual is not known), "not_closed" and
/// "already_signed" (of a signature; whether it is one, the log knows), "bad_order" (nothing is said, or not in a
/// line).
void admit(const Job& job, const Event& event);
/// The job's own entries from `first` (0, 1, …) on, each as if it came after those before it; those are not asked
/// again.
void admit_entries(const Job& job, std::size_t first = 0);

/// The spins that count, as rows of the regression, each with what was noticed in it that speaks against it.
std::vector<SpinReading> readings_of(const JobState& state);
std::vector<Motion> motions_of(const JobState& state);
/// What others may learn from the job, and what it learns by.
ShaftSpins spins_of(const Job& job);
std::vector<ShaftSpins> spins_of(const std::vector<Job>& jobs);

}  // namespace counterspot
