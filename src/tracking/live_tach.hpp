#pragma once

#include <algorithm>
#include <cstdint>
#include <deque>
#include <optional>
#include <vector>

#include "counterspot/model/rig.hpp"
#include "counterspot/tracking/shaft_motion.hpp"
#include "tach/edge_finder.hpp"

namespace counterspot {

/// The tach of a live source, pulse by pulse: whether they come, how fast the shaft turns by the newest turn of them,
/// and how they ceased. A turn clock has to see several like turns first, which a run-up does not have.
///
/// The level is learned once there are two states, and kept: the first pulse of a shaft that starts again counts. It is
/// learned anew from what came since the last pulse if that has two states and pulses at another level, or when the
/// signal goes far beyond the states known.
class LiveTach {
 public:
  LiveTach(const TachSetup& setup, double scale, double rate_Hz);

  void push(std::vector<double> samples);  ///< of the tach's channel

  std::int64_t frames() const { return frames_; }
  MotionEvidence::Tach state() const;
  double speed_rad_s() const;       ///< by the newest turn, less if the next pulse is overdue; 0: not known
  double last_speed_rad_s() const;  ///< of the newest turn; 0: none was seen
  double silent_s() const { return now_s() - std::max(last_pulse_s_.value_or(0.0), last_change_s_); }  ///< no change
  std::optional<double> last_pulse_s() const { return last_pulse_s_; }
  void confirm_stopped();

 private:
  double now_s() const { return static_cast<double>(frames_) / rate_Hz_; }
  double no_pulse_s() const { return now_s() - last_pulse_s_.value_or(0.0); }
  void keep(const std::vector<double>& samples);
  bool far_out() const;
  void look_at_surprise();
  void look_again();
  void begin_range();
  bool learn(double window_s);
  void add(const std::vector<Pulse>& pulses);
  std::optional<double> turn_s(std::size_t turns_ago) const;
  double overdue_after_s() const;
  bool slowed_to_a_stop() const;
  MotionEvidence::Tach shown() const;

  void count_teeth();

  TachSetup setup_;
  int per_turn_;  // pulses; fewer than stated of a wheel with teeth left out
  std::int64_t pulses_ = 0;
  double scale_;  // volts per sample
  double rate_Hz_;
  std::int64_t frames_ = 0;
  std::vector<double> recent_;           // the newest samples, up to now
  double lowest_ = 0.0, highest_ = 0.0;  // since the level was looked for last
  std::optional<EdgeFinder> edges_;
  double height_ = 0.0;
  double quiet_range_ = 0.0;  // between the two looks before
  double next_look_s_ = 0.5;
  double next_surprise_s_ = 0.5;
  std::deque<double> pulses_s_;  // of the newest turns, extra edges left out
  std::optional<double> last_pulse_s_;
  double last_change_s_ = 0.0;  // a pulse began, or the signal went where it had not been: long before a pulse ends
  double last_turn_s_ = 0.0;
  bool confirmed_ = false;  // that the shaft stands, since the last pulse
  bool lost_ = false;       // and not seen turning, or confirmed to stand, since
};

}  // namespace counterspot
