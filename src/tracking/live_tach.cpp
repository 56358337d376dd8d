#include "tracking/live_tach.hpp"

#include <algorithm>
#include <cmath>

#include "algebra/median.hpp"
#include "counterspot/units/angle.hpp"
#include "tach/pulse_pattern.hpp"
#include "tach/states.hpp"

namespace counterspot {
namespace {

constexpr double remembered_s = 12.0;  // a pulse of the slowest turning, and some
constexpr double first_tach_look_s = 0.5;
constexpr double surprise_every_s = 0.1;
constexpr double surprise_window_s = 2.0;
constexpr double longest_pause_s = 4.0;  // from one look at a silent tach to the next
constexpr double least_height = 0.25;    // of the pulses known: hum on a tach that went away is no pulse
constexpr double far_beyond = 1.5;       // times the height known
constexpr double hysteresis_part = 0.4;  // of the height of a pulse
constexpr double short_gap = 0.3;        // of the gaps beside it: an extra edge (a run-up's shortest is 0.41)
constexpr double least_patience_s = 0.5;
constexpr double gaps_of_patience = 3.0;
constexpr double overdue = 1.1;  // turns; a pulse is seen when it has ended, and in blocks
constexpr double slow_s = 1.5;   // a turn so slow may be its last
constexpr double most_turns_left = 2.0;
constexpr double alike_turns = 0.25;
constexpr std::size_t judged_for_chance = 8;
constexpr double shortest_gap_frames = 6.0;
constexpr double log_gap_of_chance = 0.5;  // gaps of noise, exponentially distributed, differ by 1.1 in the median

double square(double x) {
  return x * x;
}

/// Edges of noise come at random, some samples apart: a gap between them says nothing of the next but one, which a
/// shaft's does even on a run-up, and with two edges for each mark.
bool at_random(const std::vector<Pulse>& pulses) {
  if (pulses.size() < judged_for_chance) return false;
  std::vector<double> gaps;
  for (std::size_t i = 0; i + 1 < pulses.size(); ++i) gaps.push_back(pulses[i + 1].edge_frame - pulses[i].edge_frame);
  std::vector<double> unlike;
  for (std::size_t i = 0; i + 2 < gaps.size(); ++i) unlike.push_back(std::abs(std::log(gaps[i + 2] / gaps[i])));
  return median_of(gaps) < shortest_gap_frames || median_of(unlike) > log_gap_of_chance;
}

}  // namespace

LiveTach::LiveTach(const TachSetup& setup, double scale, double rate_Hz)
    : setup_(setup), per_turn_(setup.pulses_per_revolution), scale_(scale), rate_Hz_(rate_Hz) {}

void LiveTach::push(std::vector<double> samples) {
  if (samples.empty()) return;
  frames_ += static_cast<std::int64_t>(samples.size());
  keep(samples);
  if (edges_) {
    const bool inside = edges_->inside();
    std::vector<Pulse> pulses;
    edges_->push(samples.data(), samples.size(), 1, pulses);
    add(pulses);
    if (edges_->inside() != inside) last_change_s_ = now_s();
  }
  if (now_s() >= next_surprise_s_ && far_out()) look_at_surprise();
  if (now_s() >= next_look_s_) look_again();
  if (shown() == MotionEvidence::Tach::lost) lost_ = true;
  if (shown() == MotionEvidence::Tach::pulsing && turn_s(2)) lost_ = false;  // one stray pulse brings nothing back
  last_turn_s_ = turn_s(0).value_or(last_turn_s_);
}

void LiveTach::keep(const std::vector<double>& samples) {
  const auto [lowest, highest] = std::minmax_element(samples.begin(), samples.end());
  if (recent_.empty()) lowest_ = highest_ = samples.front();
  const bool wider = *lowest < lowest_ || *highest > highest_;
  lowest_ = std::min(lowest_, *lowest);
  highest_ = std::max(highest_, *highest);
  if (wider && far_out()) last_change_s_ = now_s();
  recent_.insert(recent_.end(), samples.begin(), samples.end());
  const auto most = static_cast<std::size_t>(remembered_s * rate_Hz_);
  if (recent_.size() > 2 * most) recent_.erase(recent_.begin(), recent_.end() - static_cast<std::ptrdiff_t>(most));
}

/// The signal went far beyond what it has shown: the first pulse of all, or one of another height.
bool LiveTach::far_out() const {
  return highest_ - lowest_ > far_beyond * std::max(height_, quiet_range_);
}

void LiveTach::look_at_surprise() {
  next_surprise_s_ = now_s() + surprise_every_s;  // it may not have ended yet
  if (learn(surprise_window_s)) begin_range();
}

/// Seldom, the longer the tach has been silent.
void LiveTach::look_again() {
  const double silent_s = no_pulse_s();
  if (silent_s >= first_tach_look_s) learn(silent_s);
  quiet_range_ = highest_ - lowest_;
  begin_range();
  next_look_s_ = now_s() + std::clamp(silent_s, first_tach_look_s, longest_pause_s);
}

void LiveTach::begin_range() {
  lowest_ = highest_ = recent_.back();
}

/// From the newest samples. A level that shows no pulse in them is none, nor one at
/// which only noise crosses.
bool LiveTach::learn(double window_s) {
  const auto count = std::min(static_cast<std::size_t>(std::min(window_s, remembered_s) * rate_Hz_), recent_.size());
  const std::span<const double> newest(recent_.data() + recent_.size() - count, count);
  const auto states = find_states(newest);
  if (!states || states->high - states->low < least_height * height_) return false;
  const double height = states->high - states->low;
  const double level = setup_.level ? *setup_.level / scale_ : 0.5 * (states->low + states->high);
  const double hysteresis = setup_.hysteresis ? *setup_.hysteresis / scale_ : hysteresis_part * height;
  EdgeFinder edges(level, hysteresis, setup_.edge, frames_ - static_cast<std::int64_t>(count));
  std::vector<Pulse> pulses;
  edges.push(newest.data(), count, 1, pulses);
  if (pulses.empty() || at_random(pulses)) return false;
  edges_ = edges;
  height_ = height;
  add(pulses);
  return true;
}

void LiveTach::add(const std::vector<Pulse>& pulses) {
  for (const Pulse& pulse : pulses) {
    const double at_s = pulse.edge_frame / rate_Hz_;
    if (last_pulse_s_ && at_s <= *last_pulse_s_) continue;
    last_pulse_s_ = at_s;
    confirmed_ = false;
    pulses_s_.push_back(at_s);
    if (++pulses_ % setup_.pulses_per_revolution == 0) count_teeth();
    const std::size_t n = pulses_s_.size();
    if (setup_.pulses_per_revolution == 1 && n >= 4) {
      const double before = pulses_s_[n - 3] - pulses_s_[n - 4];
      const double between = pulses_s_[n - 2] - pulses_s_[n - 3];
      const double after = pulses_s_[n - 1] - pulses_s_[n - 2];
      if (between < short_gap * std::min(before, after)) pulses_s_.erase(pulses_s_.end() - 2);
    }
  }
  const auto most = static_cast<std::size_t>(4 * setup_.pulses_per_revolution + 2);
  while (pulses_s_.size() > most) pulses_s_.pop_front();
}

void LiveTach::count_teeth() {
  if (setup_.pulses_per_revolution == 1) return;
  std::vector<Pulse> pulses;
  for (const double at_s : pulses_s_) pulses.push_back({at_s, 0.0});
  const auto wheel = seen_wheel(pulses, setup_.pulses_per_revolution);
  if (wheel && wheel->places == setup_.pulses_per_revolution) per_turn_ = wheel->pulses;
}

/// How long a turn took: the newest, or one before it. An edge right behind another may be an extra one: the next pulse
/// will tell.
std::optional<double> LiveTach::turn_s(std::size_t turns_ago) const {
  const auto per_turn = static_cast<std::size_t>(per_turn_);
  std::size_t n = pulses_s_.size();
  if (per_turn == 1 && n >= 3 &&
      pulses_s_[n - 1] - pulses_s_[n - 2] < short_gap * (pulses_s_[n - 2] - pulses_s_[n - 3]))
    --n;
  if (n < (turns_ago + 1) * per_turn + 1) return std::nullopt;
  const std::size_t end = n - 1 - turns_ago * per_turn;
  const double turn = pulses_s_[end] - pulses_s_[end - per_turn];
  return turn <= slowest_pulse_s * static_cast<double>(per_turn) ? std::optional(turn) : std::nullopt;
}

double LiveTach::overdue_after_s() const {
  const auto turn = turn_s(0);
  if (!turn) return 0.0;
  return std::min(slowest_pulse_s,
                  std::max(least_patience_s, gaps_of_patience * *turn / static_cast<double>(per_turn_)));
}

double LiveTach::speed_rad_s() const {
  const auto turn = turn_s(0);
  if (!turn) return 0.0;
  return turn_rad / std::max(*turn, no_pulse_s() * static_cast<double>(per_turn_) / overdue);
}

/// Under the deceleration of the last turns f² falls evenly with the turns (v² = 2as), by drag even faster, and the
/// turns left are f²/(f₀² − f²) of them. A pulse or two that are missing look like a sudden drop instead.
bool LiveTach::slowed_to_a_stop() const {
  const auto newest = turn_s(0);
  if (!newest || *newest >= slow_s) return true;
  const auto before = turn_s(1);
  if (!before || *before >= *newest) return false;
  const double fall = square(1.0 / *before) - square(1.0 / *newest);
  if (square(1.0 / *newest) > most_turns_left * fall) return false;
  const auto earlier = turn_s(2);
  return !earlier || square(1.0 / *earlier) - square(1.0 / *before) >= alike_turns * fall;
}

MotionEvidence::Tach LiveTach::shown() const {
  using Tach = MotionEvidence::Tach;
  if (!last_pulse_s_) return Tach::silent;
  if (no_pulse_s() <= overdue_after_s()) return Tach::pulsing;
  return slowed_to_a_stop() ? Tach::stopped : Tach::lost;
}

MotionEvidence::Tach LiveTach::state() const {
  using Tach = MotionEvidence::Tach;
  if (confirmed_) return Tach::stopped;
  const Tach now = shown();
  return now == Tach::stopped && lost_ ? Tach::lost : now;
}

double LiveTach::last_speed_rad_s() const {
  return last_turn_s_ > 0.0 ? turn_rad / last_turn_s_ : 0.0;
}

void LiveTach::confirm_stopped() {
  confirmed_ = true;
  lost_ = false;
}

}  // namespace counterspot
