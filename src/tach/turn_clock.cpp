#include "tach/turn_clock.hpp"

#include <algorithm>
#include <cmath>
#include <span>

#include "counterspot/units/angle.hpp"

namespace counterspot {
namespace {

constexpr double evenly_spaced = 0.05;  // of a turn
constexpr std::int64_t longest_bridge_turns = 8;
constexpr double sure_of_place =
    0.25;  // a pulse nearer than this share of its gap to its place is taken without a second look

double median_of_three(const std::array<double, 3>& v) {
  return std::max(std::min(v[0], v[1]), std::min(std::max(v[0], v[1]), v[2]));
}

std::size_t needed_for(int per_turn) {
  return static_cast<std::size_t>(learning_turns * per_turn) + 1;
}

}  // namespace

TurnClock::TurnClock(int pulses_per_revolution) : stated_(pulses_per_revolution), per_turn_(pulses_per_revolution) {}

double TurnClock::needed_from() const {
  if (begun_) return begun_->frame;
  if (held_) return held_->frame;
  return learning_.empty() ? 0.0 : learning_.front().edge_frame;
}

double TurnClock::timing_uncertainty_frames() const {
  if (third_differences_ == 0) return 0.0;
  return std::sqrt(third_difference_squares_ / (20.0 * static_cast<double>(third_differences_)));
}

/// Where pulse number `step` sits, in turns from the first identified pulse.
double TurnClock::turns_at(std::int64_t step) const {
  const std::int64_t whole = step >= 0 ? step / per_turn_ : -((-step + per_turn_ - 1) / per_turn_);
  return static_cast<double>(whole) + pattern_.positions_turn[static_cast<std::size_t>(step - whole * per_turn_)];
}

std::int64_t TurnClock::nearest_step(double turns) const {
  const auto base = static_cast<std::int64_t>(std::floor(turns)) * per_turn_;
  std::int64_t best = base;
  for (std::int64_t step = base; step <= base + per_turn_; ++step) {
    if (std::abs(turns_at(step) - turns) < std::abs(turns_at(best) - turns)) best = step;
  }
  return best;
}

void TurnClock::push(const Pulse& pulse, std::vector<Turn>& turns) {
  ++seen_;
  if (held_) {
    place(pulse, turns);
    return;
  }
  learning_.push_back(pulse);
  const auto once_a_turn = static_cast<std::size_t>(stated_);
  if (learning_.size() % once_a_turn != 1 % once_a_turn) return;
  const auto per_turn = pulses_of_a_turn();
  if (!per_turn) {
    if (stated_ == 1) look_for_more_marks();
    return;
  }
  const std::size_t run_begin = learning_.size() - repeating_tail(learning_, *per_turn);
  const auto learned = learn_pattern(std::span(learning_).subspan(run_begin), *per_turn);
  if (learned) {
    unidentified_ = false;
    per_turn_ = *per_turn;
    start_from(*learned, run_begin, turns);
    return;
  }
  unidentified_ = true;
  const std::size_t needed = needed_for(stated_);
  if (learning_.size() > 16 * needed)
    learning_.erase(learning_.begin(), learning_.end() - static_cast<std::ptrdiff_t>(needed));
}

/// As many as are stated, if the pulses repeat so; or fewer by the teeth that are left out. Empty if they do neither.
std::optional<int> TurnClock::pulses_of_a_turn() {
  if (repeating_tail(learning_, stated_) >= needed_for(stated_)) return stated_;
  if (stated_ == 1) return std::nullopt;
  const auto seen = seen_wheel(learning_, stated_);
  if (!seen || seen->pulses == 1) return std::nullopt;
  if (seen->places == stated_) return seen->pulses;
  other_wheel_ = seen;
  return std::nullopt;
}

/// Gaps that are not alike, but every second or third of them is.
void TurnClock::look_for_more_marks() {
  for (const int marks : {2, 3}) {
    const auto needed = static_cast<std::size_t>(2 * learning_turns * marks) + 1;
    if (repeating_tail(learning_, marks) < needed) continue;
    repeats_every_ = marks;
    learning_.erase(learning_.begin(), learning_.end() - static_cast<std::ptrdiff_t>(needed));
    return;
  }
}

std::optional<int> TurnClock::marks_beyond_one() const {
  if (stated_ != 1) return std::nullopt;
  if (pulses_ == 0) return repeats_every_;
  constexpr int surely_regular = 6;
  if (losses_.alike >= surely_regular && lost_ <= (losses_.alike + 2) * losses_.lost)
    return static_cast<int>(losses_.apart - losses_.lost);
  // Edges at nT ± δ in turn have third differences of ±8δ in turn, so that each is like the one four turns before;
  // those of independent errors are not (their covariance ends at the third).
  constexpr std::int64_t enough = 12;
  constexpr double like = 0.7;
  constexpr double least_offset = 0.011;  // δ/T; 4 deg of the shaft
  if (third_differences_ < enough) return std::nullopt;
  const auto count = static_cast<double>(third_differences_);
  const double offset = std::sqrt(third_difference_squares_ / count) / 8.0;
  const bool alternates = alternation_ > like * third_difference_squares_ * (count - 4.0) / count;
  if (alternates && offset > least_offset * turn_frames_sum_ / count) return 2;
  return std::nullopt;
}

/// Pulses before the one at `anchor`, picked backwards from it where they are expected; what lies between is extra. One
/// pulse a turn only.
std::vector<Pulse> TurnClock::picked_before(std::size_t anchor) {
  std::vector<Pulse> picked;
  double here = learning_[anchor].edge_frame;
  double turn = learning_[anchor + 1].edge_frame - here;
  for (std::size_t i = anchor; i > 0;) {
    std::size_t best = i;
    double best_error = sure_of_place;
    double best_turns = 0.0;
    for (std::size_t k = i; k-- > 0;) {
      const double elapsed = (here - learning_[k].edge_frame) / turn;
      const double turns = std::round(elapsed);
      if (turns > static_cast<double>(longest_bridge_turns) || (best < i && turns > best_turns)) break;
      const bool slower = k + 1 == i && elapsed > 1.0 && elapsed < 1.5;
      const double error =
          slower ? std::min(std::abs(elapsed - turns), 0.9 * sure_of_place) : std::abs(elapsed - turns);
      if (turns < 1.0 || error >= best_error) continue;
      best = k;
      best_error = error;
      best_turns = turns;
    }
    // Behind the first pulse of all the shaft may have come from rest: only evenly spaced turns are bridged to it.
    if (best == i || (best == 0 && best_turns > 1.0 && best_error > evenly_spaced)) break;
    turn = (here - learning_[best].edge_frame) / best_turns;
    here = learning_[best].edge_frame;
    picked.push_back(learning_[best]);
    doubled_ += static_cast<std::int64_t>(i - best - 1);
    i = best;
  }
  std::reverse(picked.begin(), picked.end());
  return picked;
}

void TurnClock::start_from(const LearnedRun& learned, std::size_t run_begin, std::vector<Turn>& turns) {
  pattern_ = learned.pattern;
  std::vector<Pulse> pulses;
  std::size_t first = run_begin + learned.first_identified;
  double first_turn =
      learning_[run_begin + static_cast<std::size_t>(per_turn_)].edge_frame - learning_[run_begin].edge_frame;
  if (per_turn_ == 1) {  // the run may begin with an extra edge close to a true one: trust its third pulse
    first = run_begin + 2;
    pulses = picked_before(first);
    if (!pulses.empty()) first_turn = learning_[first].edge_frame - pulses.back().edge_frame;
  }
  pulses.insert(pulses.end(), learning_.begin() + static_cast<std::ptrdiff_t>(first), learning_.end());
  learning_.clear();
  recent_turns_.fill(first_turn);
  begun_.reset();
  edges_in_row_ = 0;
  held_ = Placed{pulses.front().edge_frame, pulses.front().edge_frame, 0};
  ++pulses_;
  for (std::size_t i = 1; i < pulses.size(); ++i) place(pulses[i], turns);
}

/// Was `suspect` an extra edge? Yes if `next` fits better without it.
bool TurnClock::is_extra(double suspect, double next) const {
  const double turn = median_of_three(recent_turns_);
  const double here = turns_at(held_->step);
  const double without = here + (next - held_->frame) / turn;
  const double gap = turns_at(held_->step + 1) - here;
  const double faster_turn = (suspect - held_->frame) / gap;
  const double with = turns_at(held_->step + 1) + (next - suspect) / faster_turn;
  const double error_without = std::abs(without - turns_at(nearest_step(without)));
  const double error_with = std::abs(with - turns_at(nearest_step(with)));
  return error_without < error_with;
}

void TurnClock::place(const Pulse& pulse, std::vector<Turn>& turns) {
  const double frame = pulse.edge_frame;
  if (suspect_) {
    const double suspect = *suspect_;
    suspect_.reset();
    if (is_extra(suspect, frame)) {
      ++doubled_;
    } else {
      accept(suspect, held_->step + 1, turns);
    }
  }
  const double turn = median_of_three(recent_turns_);
  const double here = turns_at(held_->step);
  const double place = here + (frame - held_->frame) / turn;
  std::int64_t step = nearest_step(place);
  if (step <= held_->step) {  // two edges at one place
    ++doubled_;
    if (std::abs(frame - held_->expected_frame) < std::abs(held_->frame - held_->expected_frame)) hold(frame);
    return;
  }
  if (turns_at(step) - here > static_cast<double>(longest_bridge_turns)) {
    start_anew(pulse, turns);
    return;
  }
  const double gap = std::min(turns_at(step) - turns_at(step - 1), turns_at(step + 1) - turns_at(step));
  const bool sure = std::abs(place - turns_at(step)) < sure_of_place * gap;
  const bool slower = step == held_->step + 1 && place > turns_at(step);
  if (sure || slower) {
    accept(frame, step, turns);
  } else if (step == held_->step + 1) {
    suspect_ = frame;
  } else if (place < turns_at(step) && step == held_->step + 2) {
    accept(frame, held_->step + 1, turns);  // half a gap late: a shaft that slows down fast
  } else {
    start_anew(pulse, turns);
  }
}

void TurnClock::start_anew(const Pulse& pulse, std::vector<Turn>& turns) {
  forget(turns);
  learning_.push_back(pulse);
}

/// The held pulse is at this frame, and the newest turn is as long as that says.
void TurnClock::hold(double frame) {
  held_->frame = frame;
  if (held_->advance_turns > 0.0) recent_turns_[0] = (frame - held_->from_frame) / held_->advance_turns;
}

void TurnClock::accept(double frame, std::int64_t step, std::vector<Turn>& turns) {
  const double advance = turns_at(step) - turns_at(held_->step);
  const double turn = median_of_three(recent_turns_);
  const std::int64_t lost = step - held_->step - 1;
  lost_ += lost;
  longest_lost_turns_ = std::max(longest_lost_turns_, static_cast<double>(lost) / per_turn_);
  if (lost > 0) remember_loss(step, lost);
  settle(turns);
  recent_turns_ = {0.0, recent_turns_[0], recent_turns_[1]};
  held_ = Placed{frame, held_->frame + advance * turn, step, held_->frame, advance};
  hold(frame);
  ++pulses_;
}

/// The held pulse is final: if it is the identified one, the turn up to it is known.
void TurnClock::settle(std::vector<Turn>& turns) {
  if (held_->step % per_turn_ != 0) return;
  const bool follows = begun_ && held_->step - begun_->step == per_turn_;
  if (begun_) {
    turns.push_back({begun_->frame, held_->frame, turn_rad * turns_at(begun_->step), turn_rad * turns_at(held_->step)});
  }
  remember_edge(held_->frame, follows);
  begun_ = held_;
}

void TurnClock::remember_loss(std::int64_t step, std::int64_t lost) {
  const std::int64_t apart = step - losses_.step;
  const bool alike = lost == losses_.lost && apart == losses_.apart;
  losses_ = {step, lost, apart, alike ? losses_.alike + 1 : 0};
}

void TurnClock::remember_edge(double frame, bool follows) {
  edges_in_row_ = follows ? edges_in_row_ + 1 : 1;
  edges_ = {frame, edges_[0], edges_[1], edges_[2]};
  if (edges_in_row_ == 1) before_.fill(0.0);
  if (edges_in_row_ < 4) return;
  const double third = edges_[0] - 3.0 * edges_[1] + 3.0 * edges_[2] - edges_[3];
  third_difference_squares_ += third * third;
  ++third_differences_;
  alternation_ += third * before_[3];
  before_ = {third, before_[0], before_[1], before_[2]};
  turn_frames_sum_ += edges_[0] - edges_[1];
}

void TurnClock::forget(std::vector<Turn>& turns) {
  finish(turns);
  learning_.clear();
}

void TurnClock::finish(std::vector<Turn>& turns) {
  if (suspect_) ++doubled_;
  suspect_.reset();
  if (held_) settle(turns);
  held_.reset();
  begun_.reset();
}

}  // namespace counterspot
