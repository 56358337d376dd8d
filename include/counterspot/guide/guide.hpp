#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "counterspot/job/job.hpp"
#include "counterspot/job/next_step.hpp"
#include "counterspot/log/log.hpp"
#include "counterspot/log/signature.hpp"

namespace counterspot {

/// The guided work on a job of the log, step by step: the one place that the command line and the page both go through,
/// so that they cannot say different things.

/// A job with what its own spins and earlier shafts say.
struct KnownJob {
  Job job;
  std::optional<FamilyPrior> prior;
  Analysis analysis;
  std::optional<Stock> stock = {};  ///< stated for trial weights

  NextStep next() const { return next_step(job, analysis, prior, stock ? &*stock : nullptr); }
};

/// @throws Error as Log does.
KnownJob known_job(const Log& log, Job job);

/// A file as a job keeps it.
struct KeptFile {
  std::string path;  ///< absolute
  std::string text;  ///< empty if it cannot be read: whoever reads it for what it says has said so
};
KeptFile kept_file(const std::filesystem::path& file);

/// A recorded spin, measured by the job's rig, not yet in the log. @throws Error as open_recording and track do.
/// @param file "-" is standard input, whose bytes are hashed as they are read. @param shaft for its joints, if order 2
/// is large.
Spun measured_spin(const std::filesystem::path& file, const Rig& rig, const Shaft& shaft);

/// What a spin is called if nobody names it: "as found", "spin 2", …
std::string usual_label(const Job& job);

/// What the job stands at with this spin in it, found before the spin is kept, so that both are kept together.
std::optional<Finding> finding_with(const Log& log, Job job, const Spun& spun);

/// Keeps a spin with what the job then stands at.
/// @throws Error(recording, "same_recording") if its recording stands for another spin already: in this job, or in
/// another job of the log, unless it was taken back there or that job was closed without a final spin; and what
/// `Log::append` does.
Job keep_spin(Log& log, const Job& seen, Spun spun, const std::string& program, std::int64_t at_unix_s);

/// Reads "A 12.5 g @ 138.4 deg", "A 12.5 g @ 4:37" or "A 12.5 g @ 138.4 deg, radius 41 mm".
/// @throws Error(request, …) "bad_piece", "bad_quantity".
FittedWeight parse_piece(const std::string& text, const Rig& rig, const Shaft& shaft);

/// What an operator says is on the shaft.
struct StatedFit {
  std::vector<FittedWeight> on_shaft;  ///< all of it
  bool as_typed = false;               ///< it was asked whether that is so, and it is
  bool was_on = false;                 ///< already in the last spin, which had been entered without it
};
/// What stays on the shaft once the trial weights came off, as the step's other choice has it.
/// @throws Error(request, "nothing_asked") if the step does not show that choice.
std::vector<FittedWeight> with_trials_off(const JobState& state, const NextStep& step);

/// Keeps it. With `was_on` the spins since the last statement that it explains are taken back, and entered again after
/// it. @throws Error(request, "unlike_asked") once, for a statement that is far from what was asked for;
/// "reading_moved" while it is not said whether a weight was on in the last spin; what Log does.
Job keep_fit(Log& log, const KnownJob& known, const StatedFit& stated, const std::string& program,
             std::int64_t at_unix_s);

/// The close that this job has earned: on its final spin if there is one with a finding, else with the reason only.
Closed closing_of(const KnownJob& known, const std::string& reason);

/// Ends a job so; one that was altered only with a reason, and without a final spin. @throws what `Log` does.
Job close_job(Log& log, const std::string& job, const std::string& reason, const std::string& program,
              std::int64_t at_unix_s);

/// Signs a closed job as it stands. @throws what `Log` does.
Job sign_job(Log& log, const Job& job, const SigningKey& key, const std::string& program, std::int64_t at_unix_s);

}  // namespace counterspot
