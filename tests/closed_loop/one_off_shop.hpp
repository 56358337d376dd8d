#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/job/next_step.hpp"
#include "rigsim/random.hpp"
#include "rigsim/scenario.hpp"

namespace counterspot::test {

/// What goes wrong with a shaft, unsaid.
enum class Slip {
  none,
  half_at_a,     ///< after the first spin sensor A reads half, its noise too
  half_at_both,  ///< both do
  twice,         ///< at plane A twice the mass that is stated
  other_side,    ///< at plane A half a turn on
  other_plane,   ///< what is stated at A is on at B, and the other way round
};

/// A shop of one-offs on one simulated rig: no shaft is like another. The rig is more than the program's model of it:
/// the shaft's mass lies along it (rigsim), the pedestals stand on a base that moves and tilts, their stiffness changes
/// along the bed, every clamping is a little different, and something else may swing along.
struct ShopPlan {
  std::string name;
  std::uint64_t seed = 1;
  int shafts = 30;
  bool hard = false;
  double clamping = 0.02;                      ///< of m, k and c of a pedestal, one standard deviation
  double least_times = 2.0, most_times = 8.0;  ///< the limit, as found
  bool other_speeds = false;                   ///< 900 to 2400 rpm, else 1600 rpm for all
  bool base = false;
  double along_bed = 0.0;                  ///< of the stiffness, over a metre
  std::optional<int> sensor_changed = {};  ///< from which shaft on sensor B reads 5 % more and 2 deg later
  std::optional<int> wrong_job = {};       ///< its weights at A are stated with half their mass
  Slip slip = Slip::none;                  ///< with every shaft of the last third
  int odd_modes = 0;  ///< something on pedestal A swings by itself, at 31 Hz; then on B, at 23 Hz; on A, at 19 Hz
  Teacher teacher = Teacher::rig;
};

struct ShopOutcome {
  std::vector<int> spins;    ///< one per shaft
  std::vector<bool> within;  ///< called so
  int false_within = 0;
  int guesses = 0;          ///< corrections on the word of earlier shafts alone
  int louder = 0;           ///< of them after which the larger sensor reads more than before
  int coefficients = 0;     ///< real parts and imaginary parts that were foretold
  int coefficients_in = 0;  ///< of them within 1.96 u
  int residuals = 0;        ///< at the planes at the end
  int residuals_in = 0;     ///< true magnitude within 1.96 u of the reported one
  double seconds = 0.0;

  /// Share of the shafts [first, end) called within after two spins.
  double two_spins(std::size_t first, std::size_t end) const;
  double mean_spins() const;
};

ShopOutcome run_shop(const ShopPlan& plan);

}  // namespace counterspot::test
