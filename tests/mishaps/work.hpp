#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "counterspot/files/files.hpp"
#include "counterspot/solve/solution.hpp"
#include "rigsim/scenario.hpp"
#include "rigsim/simulate.hpp"

namespace counterspot::test {

/// One spin as the operator wrote it down, and as it was.
struct WorkSpin {
  std::string label;
  std::vector<FittedWeight> stated;
  std::vector<rigsim::UnbalanceSlice> real;
  std::uint64_t seed = 0;
  rigsim::Recorded recorded;
};

/// A shaft on a simulated rig with all that a job left behind. Its truth is known.
struct Work {
  rigsim::Scenario scenario;
  std::vector<WorkSpin> spins;
  std::string rig_text;
  std::string shaft_text;

  WorkSpin& last() { return spins.back(); }
  std::size_t tach() const { return scenario.rig.sensors.size(); }
  /// Records spin `k` again, after a change of what is on the shaft or of the rig.
  void record(std::size_t k);
  /// The largest true unbalance of a plane over its limit, as the supports feel it in the last spin.
  double times_limit() const;
};

/// How the work ends.
enum class Ending {
  corrected,    ///< as found, a trial at each plane, a correction, and the spin that shows what it left
  three_spins,  ///< as found and a trial at each plane, the second of which stays on: nothing tests itself
};

/// Sound work on a shaft of `rigsim::random_scenario`, 6 times over its limit as found. Trial weights are set as a
/// careful hand does it, to 1 % and 1 deg (one standard deviation), and stated as they were meant.
/// @param times_limit what the correction leaves at the worse plane, over its limit.
Work sound_work(std::uint64_t seed, Ending ending, double times_limit);

/// What the library said of the work.
struct Said {
  bool refused = false;
  Verdict verdict = Verdict::unsure;      ///< if it was not refused
  Verdict by_numbers = Verdict::unsure;   ///< of residuals and limits alone, whatever holds it back
  std::vector<std::string> codes;         ///< of the refusal; or of all warnings, and of what holds the verdict back
  std::vector<std::string> holding_back;  ///< of those the ones in `held_back`
  std::vector<std::string> sentences;     ///< that go with the codes
};

/// The recordings as files, a spin file beside them, and `solve`.
Said solved(const Work& work);
/// The same spins and statements one after another through a job of a log, as command line and page keep them; whoever
/// is asked whether a statement is as typed says yes.
Said through_a_job(const Work& work);

}  // namespace counterspot::test
