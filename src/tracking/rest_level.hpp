#pragma once

#include <cstddef>
#include <deque>
#include <span>
#include <string>
#include <vector>

#include "counterspot/tracking/shaft_motion.hpp"

namespace counterspot {

/// What one sensor shows, against what it shows at rest: powers in lines of 2 Hz from half a second at a time, so that
/// the hum and the neighbours of a rig at rest hide nothing beside themselves.
class RestLevel {
 public:
  explicit RestLevel(double rate_Hz);

  void add(double sample);
  MotionEvidence::Sensors state() const;
  bool as_when_turning() const;
  bool turns_among_knocks() const;         ///< while somebody knocks, which leaves pedestals ringing
  void shaft_turns() { turning_ = true; }  ///< now: how much it shows while it turns is remembered
  bool may_learn() const;                  ///< long enough seen, and not always the same value
  void learn();                            ///< the shaft stands now

 private:
  void end_block();
  void look_for_lasting_lines();
  std::vector<double> mean_of_blocks() const;

  std::vector<double> block_;
  std::size_t block_frames_;
  std::size_t lines_;
  std::deque<std::vector<double>> powers_;  // of the newest blocks, oldest first
  std::vector<double> rest_;                // empty: not known
  std::vector<std::size_t> lasting_;        // of each line, at how many of the newest looks it lasted
  double most_turning_ = 0.0;               // sum of the powers
  bool turning_ = false;                    // in the present block
};

}  // namespace counterspot
