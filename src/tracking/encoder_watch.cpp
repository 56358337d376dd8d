#include "tracking/encoder_watch.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace counterspot {
namespace {

constexpr double least_samples_of_pulse = 6.0;
constexpr double alike_pulses = 0.02;  // of those stated
constexpr std::int64_t enough_edges = 20;
constexpr double agreeing = 0.9;         // of the edges
constexpr double hysteresis_half = 0.1;  // of the height

/// A two-level signal over one turn, by its extremes.
class Level {
 public:
  /// @param state before, as `take` gives it.
  Level(const Samples& data, std::size_t stride, std::size_t channel, std::size_t count, int state) : state_(state) {
    double low = data[channel];
    double high = low;
    for (std::size_t i = 1; i < count; ++i) {
      low = std::min(low, static_cast<double>(data[i * stride + channel]));
      high = std::max(high, static_cast<double>(data[i * stride + channel]));
    }
    up_ = 0.5 * (low + high) + hysteresis_half * (high - low);
    down_ = 0.5 * (low + high) - hysteresis_half * (high - low);
  }
  /// 1 high, 0 low, −1 not known yet.
  int level_after(double value) {
    if (value > up_) state_ = 1;
    if (value < down_) state_ = 0;
    return state_;
  }

 private:
  double up_ = 0.0;
  double down_ = 0.0;
  int state_;
};

}  // namespace

EncoderWatch::EncoderWatch(const RecordingInfo& info, const Rig& rig)
    : pair_(rig.tach.encoder), stated_(rig.rotation), viewing_end_(rig.viewing_end), rate_Hz_(info.sample_rate_Hz) {
  if (!pair_) return;
  a_ = find_channel(info, pair_->a, "the encoder's A");
  b_ = find_channel(info, pair_->b, "the encoder's B");
}

void EncoderWatch::add(const TurnOfSamples& turn) {
  if (!pair_ || turn.frames.count < 2) return;
  const TurnFrames& frames = turn.frames;
  Level a(frames.data, frames.stride, a_, frames.count, a_level_);
  Level b(frames.data, frames.stride, b_, frames.count, b_level_);
  std::int64_t a_first = 0;
  std::int64_t b_first = 0;
  for (std::size_t i = 0; i < frames.count; ++i) {
    const int b_before = std::exchange(b_level_, b.level_after(frames.data[i * frames.stride + b_]));
    const int a_before = std::exchange(a_level_, a.level_after(frames.data[i * frames.stride + a_]));
    if (a_level_ != 1 || a_before != 0 || b_level_ < 0 || b_level_ != b_before) continue;
    ++(b_level_ == 0 ? a_first : b_first);
  }
  const double turns = (turn.turn.end_angle_rad - turn.turn.begin_angle_rad) / turn_rad;
  const double stated = pair_->pulses_per_revolution * turns;
  turns_ += turns;
  samples_ += static_cast<double>(frames.count);
  if (static_cast<double>(frames.count) < least_samples_of_pulse * stated) return;
  if (std::abs(static_cast<double>(a_first + b_first) - stated) > std::max(1.0, alike_pulses * stated)) {
    unlike_turns_ += turns;
    unlike_edges_ += a_first + b_first;
    return;
  }
  a_first_ += a_first;
  b_first_ += b_first;
}

std::optional<Rotation> EncoderWatch::rotation() const {
  const std::int64_t all = a_first_ + b_first_;
  if (!pair_ || all < enough_edges) return std::nullopt;
  const double part = static_cast<double>(a_first_) / static_cast<double>(all);
  if (part > agreeing) return pair_->a_leads;
  if (part < 1.0 - agreeing) return seen_from_other_end(pair_->a_leads);
  return std::nullopt;
}

std::optional<Warning> EncoderWatch::doubt() const {
  if (!pair_ || rotation() || turns_ == 0.0) return std::nullopt;
  Warning warning{WarningCode::direction_unknown, "tach", {}};
  const int stated = pair_->pulses_per_revolution;
  const double samples = samples_ / (turns_ * stated);
  if (a_first_ + b_first_ >= enough_edges) {
    warning.message =
        fmt::format("A of the encoder comes first in {} of {} pulses, so they do not tell which way the shaft turned",
                    a_first_, a_first_ + b_first_);
    warning.remedy = "look at the cables of A and B, and at both channels in 'counterspot inspect'";
  } else if (unlike_turns_ > 0.0) {
    warning.message = fmt::format(
        "A and B of the encoder show {:.3g} pulses a turn, a part of a pulse apart, and the rig file says {}, so they "
        "do "
        "not tell which way the shaft turned",
        static_cast<double>(unlike_edges_) / unlike_turns_, stated);
    warning.remedy = "look at channel, second_channel and their cables, and write pulses_per_revolution as A has them";
  } else if (samples < least_samples_of_pulse) {
    warning.message = fmt::format(
        "a pulse of the encoder has {:.2g} samples, and with fewer than {:g} A and B do not tell which way the shaft "
        "turned",
        samples, least_samples_of_pulse);
    const double hundreds_Hz = rate_Hz_ * least_samples_of_pulse / samples / 100.0;
    warning.remedy =
        fmt::format("record at {:.0f} Hz or more, or spin more slowly", 100.0 * std::ceil(hundreds_Hz - 0.01));
  } else {
    warning.message =
        fmt::format("the encoder's {} pulses are too few to tell which way the shaft turned", a_first_ + b_first_);
    warning.remedy = "record longer";
  }
  return warning;
}

std::optional<Error> EncoderWatch::refusal(const std::string& recording) const {
  const auto turned = rotation();
  if (!turned || *turned == stated_) return std::nullopt;
  return Error(
      Trouble::recording, "wrong_direction",
      fmt::format("{}: by the encoder the shaft turned {}, seen from end {}, and the rig file says {}", recording,
                  rotation_name(*turned), viewing_end_, rotation_name(stated_)),
      "spin it the way the rig file says; if it did turn so, exchange channel and second_channel under [tach], "
      "or correct a_leads");
}

}  // namespace counterspot
