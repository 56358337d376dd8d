#pragma once

#include <Eigen/Core>
#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

#include "tracking/spin_stream.hpp"

namespace counterspot {

/// Part of the sensors' signals at equal times, with the shaft's angle there. In units of a sample.
struct SlowStretch {
  double first_frame = 0.0;    ///< of the first value, from the start of the recording
  double step_frames = 1.0;    ///< from value to value
  double blend_frames = 1.0;   ///< a value is a triangular mean over ± this many frames (1: none), see `passed`
  Eigen::VectorXd angles_rad;  ///< counting on from turn to turn
  Eigen::MatrixXd values;      ///< a column a sensor

  Eigen::Index size() const { return angles_rad.size(); }
  double turns() const { return (angles_rad(size() - 1) - angles_rad(0)) / turn_rad; }
  /// What the mean leaves of a cosine of this frequency.
  double passed(double cycles_per_frame) const;
};

/// Four neighbouring channels of the block of samples that is being filled.
struct FourBlocks {
  std::size_t first_channel = 0;
  std::array<double, 4> sums{};   ///< Σ x
  std::array<double, 4> ramps{};  ///< Σ i·x
  std::array<double, 4> held{};   ///< Σ (i + 1)·x of the block before it
};
struct BlockPlace {
  std::size_t filled = 0;  ///< frames of the block
  bool begun = false;      ///< a block came before it
};

/// Collects, as turns go by, what the sensors show up to three orders above the highest asked for, at some four values
/// for each cycle of the fastest of it. What lies above is taken away before it can fold down: a triangular mean whose
/// zeros lie where the first thinning folds, then a low-pass 80 dB down (Kaiser 1974, as in Oppenheim & Schafer,
/// Discrete-Time Signal Processing, 7.6) before the second. Bounded: of a long recording the later part is kept.
class SlowSignal {
 public:
  /// @param channels 0-based, one per sensor.
  SlowSignal(std::vector<std::size_t> channels, double highest_order);

  void add(const TurnOfSamples& turn);

  /// Orders that it holds.
  double highest_order() const { return highest_order_; }

  /// The longest stretch without a gap within these frames; nothing if it has fewer than `least_turns` turns.
  std::optional<SlowStretch> longest(double begin_frame, double end_frame, double least_turns) const;

 private:
  struct Run {  // without a gap
    double first_frame = 0.0;
    std::size_t begin = 0;  // in kept_
  };
  bool much_faster_than_set(const TurnOfSamples& turn) const;
  void begin_run(const TurnOfSamples& turn);
  void thin();
  void forget_older_half();
  std::size_t kept() const { return kept_.front().size(); }

  std::vector<std::size_t> channels_;
  double highest_order_;
  double turn_frames_ = 0.0;  // of the turn that set the steps; 0: none yet
  std::size_t first_step_ = 1;
  std::size_t second_step_ = 1;
  std::vector<double> filter_;
  std::vector<FourBlocks> fours_;  // that have a sensor
  BlockPlace place_;
  std::vector<double> made_;                  // add() works in it
  std::vector<std::vector<double>> waiting_;  // behind the first thinning
  std::vector<std::vector<double>> kept_;     // behind the second
  std::vector<Run> runs_;
  std::vector<Turn> turns_;
};

}  // namespace counterspot
