#include "tracking/spin_stream.hpp"

#include <fmt/format.h>

#include <Eigen/Core>
#include <algorithm>
#include <cmath>

#include "counterspot/units/error.hpp"
#include "tach/states.hpp"

namespace counterspot {
namespace {

constexpr double first_look_s = 0.5;  // the states are looked for in this much signal, then in twice as much, …
constexpr double longest_look_s = 8.0;
constexpr std::int64_t fewest_frames_of_long_look = 4096;  // whatever the rate is said to be
constexpr double least_hysteresis = 0.2;                   // of the height of a pulse
constexpr double most_hysteresis = 0.6;
constexpr double hysteresis_per_noise = 8.0;  // ± 4 standard deviations

constexpr double level_piece_s = 0.5;
constexpr std::size_t most_unseen = 64;

/// As long as two of the turns beside it.
bool lasts(const Unseen& unseen) {
  const double turn = std::max(unseen.frames_per_turn_before, unseen.frames_per_turn_behind);
  return static_cast<double>(unseen.end_frame - unseen.begin_frame) >= 2.0 * turn;
}

/// Nothing times a number that is none is no number.
template <typename Sample>
bool all_finite(const Sample* x, std::size_t count) {
  using Row = Eigen::Array<Sample, Eigen::Dynamic, 1>;
  return (Sample{0} * Eigen::Map<const Row>(x, static_cast<Eigen::Index>(count))).sum() == Sample{0};
}

Error more_marks(const std::string& recording, int marks) {
  return {
      Trouble::recording, "more_marks",
      fmt::format("{}: the tach sees {} marks a turn, and the rig file says one", recording, marks),
      fmt::format("take the other strip of tape off or mend a mark that glares at both ends, and spin again; if all "
                  "are wanted, say pulses_per_revolution = {} in the rig file",
                  marks)};
}

Error other_wheel(const std::string& recording, const SeenWheel& wheel, int stated) {
  const std::string left_out = wheel.places > wheel.pulses ? fmt::format(", and its gaps leave out {} of {}",
                                                                         wheel.places - wheel.pulses, wheel.places)
                                                           : "";
  return {Trouble::recording, "other_wheel",
          fmt::format("{}: the tach's pulses repeat after {}{}; the rig file says {} a turn", recording, wheel.pulses,
                      left_out, stated),
          fmt::format("count the teeth that pass in a turn, and write pulses_per_revolution = {} in the rig file if "
                      "that is one turn",
                      wheel.pulses)};
}

Error no_tach(const std::string& recording, const std::string& what) {
  return {Trouble::recording, "no_tach", fmt::format("{}: {}", recording, what),
          "check the tach's channel, its aim at the mark and its supply, or give the level in the rig file"};
}

}  // namespace

SpinStream::SpinStream(Recording& recording, const TachSetup& tach, std::vector<std::size_t> used,
                       std::size_t block_frames)
    : recording_(recording),
      tach_(tach),
      used_(std::move(used)),
      channels_(recording.info().channels.size()),
      block_frames_(std::max<std::size_t>(block_frames, 1)),
      clock_(tach.pulses_per_revolution),
      buffer_(channels_, recording.info().fits_float) {
  const RecordingInfo& info = recording.info();
  const bool from_file = !tach_.times_file.empty();
  for (const double time_s : from_file ? read_times(tach_.times_file, tach_.times_mark) : info.edge_times_s)
    times_.push_back((time_s - info.start_time_s) * info.sample_rate_Hz);
  if (!times_.empty()) return;
  if (tach_.speed_channel) {
    throw Error(
        Trouble::request, "no_phase",
        fmt::format("{}: no phase: the rig file gives a signal of the speed, which shows no angle", info.name),
        "measure amplitudes with 'counterspot track', solve with 'solve --no-phase', or fit one mark with a tach "
        "and write its channel under [tach]");
  }
  if (!tach_.channel) {
    throw Error(Trouble::request, "no_tach_setup", "the rig has neither a tach channel nor a file of tach times",
                "name one under [tach] in the rig file");
  }
  tach_channel_ = find_channel(info, *tach_.channel, "the tach");
  if (info.full_scale && tach_.full_scale_V) tach_scale_ = *tach_.full_scale_V;
  used_.push_back(*tach_channel_);
  learn_level();
}

Samples SpinStream::frame_at(std::int64_t frame) const {
  return buffer_.at(static_cast<std::size_t>(frame - begin_frame_));
}

std::int64_t SpinStream::most_held_frames() const {
  return static_cast<std::int64_t>(most_held_samples / channels_);
}

/// Reads behind what is held; the frames that nobody needs any more make room first.
bool SpinStream::read_block() {
  if (ended_) return false;
  const std::size_t frames = buffer_.read(recording_, block_frames_);
  end_frame_ += static_cast<std::int64_t>(frames);
  ended_ = frames == 0;
  return !ended_;
}

/// Drops the frames before the first that a turn may still need. Moving is put off until it moves much less than it
/// frees.
void SpinStream::release() {
  double first = static_cast<double>(searched_frame_);
  if (edges_) first = std::min(first, edges_->needed_from());
  if (clock_.holding()) first = std::min(first, clock_.needed_from());
  std::int64_t needed = std::clamp(static_cast<std::int64_t>(std::floor(first)), begin_frame_, end_frame_);
  if (searched_frame_ - needed > most_held_frames()) {
    clock_.forget(settled_);
    needed = searched_frame_;
  }
  if (needed > checked_frame_) pass_over(checked_frame_, needed);
  if (needed - begin_frame_ < 4 * (end_frame_ - needed)) return;
  buffer_.drop(static_cast<std::size_t>(needed - begin_frame_));
  begin_frame_ = needed;
}

/// Frames that are in no turn.
void SpinStream::pass_over(std::int64_t first_frame, std::int64_t end_frame) {
  if (first_frame >= end_frame) return;
  check_finite(first_frame, end_frame);
  checked_frame_ = end_frame;
  const bool goes_on = !unseen_.empty() && unseen_.back().end_frame == first_frame;
  if (!goes_on) {
    end_level_piece();
    if (unseen_.size() == most_unseen) return;
    if (!unseen_.empty() && !lasts(unseen_.back())) unseen_.pop_back();
    unseen_.push_back({first_frame, first_frame, frames_per_turn_, 0.0, std::vector<double>(used_.size(), 0.0)});
  }
  unseen_.back().end_frame = end_frame;
  const auto piece = std::llround(level_piece_s * recording_.info().sample_rate_Hz);
  frame_at(first_frame).visit([&](const auto* x) {
    for (std::int64_t frame = first_frame; frame < end_frame; ++frame, x += channels_) {
      for (std::size_t u = 0; u < used_.size(); ++u) {
        const auto value = static_cast<double>(x[used_[u]]);
        piece_[u].sum += value;
        piece_[u].square += value * value;
      }
      if (++piece_frames_ >= piece) end_level_piece();
    }
  });
}

void SpinStream::end_level_piece() {
  piece_.resize(used_.size());
  for (std::size_t u = 0; u < used_.size() && piece_frames_ > 0; ++u) {
    const LevelSums& piece = piece_[u];
    unseen_.back().square[u] += piece.square - piece.sum * piece.sum / static_cast<double>(piece_frames_);
  }
  piece_.assign(used_.size(), {});
  piece_frames_ = 0;
}

void SpinStream::check_finite(std::int64_t first_frame, std::int64_t end_frame) const {
  first_frame = std::max(first_frame, begin_frame_);
  if (first_frame >= end_frame) return;
  const auto count = static_cast<std::size_t>(end_frame - first_frame) * channels_;
  if (frame_at(first_frame).visit([&](const auto* x) { return all_finite(x, count); })) return;
  for (std::int64_t frame = first_frame; frame < end_frame; ++frame) {
    for (const std::size_t channel : used_) {
      if (std::isfinite(frame_at(frame)[channel])) continue;
      throw Error(
          Trouble::recording, "not_finite",
          fmt::format("{}: sample {} of channel {} ('{}') is not a number", recording_.info().name, frame + 1,
                      channel + 1, recording_.info().channels[channel].name),
          "record the spin again; if only an end is damaged, use the sound part with the options --from and --to");
    }
  }
}

/// Reads until two states and a few turns of pulses are seen, and sets level and hysteresis. The windows looked at are
/// set in frames, not in blocks, so that the blocks do not matter.
void SpinStream::learn_level() {
  const double rate = recording_.info().sample_rate_Hz;
  const auto longest =
      std::clamp<std::int64_t>(std::llround(longest_look_s * rate), fewest_frames_of_long_look, most_held_frames() / 2);
  std::int64_t look = std::clamp<std::int64_t>(std::llround(first_look_s * rate), 16, longest);
  buffer_.make_room(static_cast<std::size_t>(look) + block_frames_);
  for (;;) {
    while (end_frame_ - begin_frame_ < look && read_block()) {
    }
    const std::int64_t window_end = std::min(end_frame_, begin_frame_ + look);
    check_finite(checked_frame_, window_end);
    const bool whole = ended_ && window_end == end_frame_;
    if (try_level(window_end, whole || look == longest)) return;
    if (whole) break;
    if (look < longest) {
      look = std::min(2 * look, longest);
      continue;
    }
    const std::int64_t kept_from = begin_frame_ + look / 2;  // long stillness: only the newer half is looked at again
    pass_over(begin_frame_, kept_from);
    buffer_.drop(static_cast<std::size_t>(kept_from - begin_frame_));
    begin_frame_ = checked_frame_ = searched_frame_ = kept_from;
  }
  throw no_tach(recording_.info().name, fmt::format("no pulses were found in the tach's channel '{}'",
                                                    recording_.info().channels[*tach_channel_].name));
}

/// True if the frames held up to `window_end` show two states and enough pulses to trust them (any, if there is no
/// longer look to come).
bool SpinStream::try_level(std::int64_t window_end, bool any_pulses) {
  std::vector<double> column;
  column.reserve(static_cast<std::size_t>(window_end - begin_frame_));
  for (std::int64_t frame = begin_frame_; frame < window_end; ++frame)
    column.push_back(frame_at(frame)[*tach_channel_]);
  if (column.empty()) return false;
  const auto states = find_states(column);
  if (!states && !tach_.level) return false;
  const auto [lowest, highest] = std::minmax_element(column.begin(), column.end());
  const States found = states ? *states : States{*lowest, *highest, 0.0};
  const double height = found.high - found.low;
  const double level = tach_.level ? *tach_.level / tach_scale_ : 0.5 * (found.low + found.high);
  const double hysteresis = tach_.hysteresis ? *tach_.hysteresis / tach_scale_
                                             : std::clamp(hysteresis_per_noise * found.noise, least_hysteresis * height,
                                                          most_hysteresis * height);
  EdgeFinder trial(level, hysteresis, tach_.edge);
  std::vector<Pulse> pulses;
  trial.push(column.data(), column.size(), 1, pulses);
  const auto wanted = static_cast<std::size_t>(2 * learning_turns * tach_.pulses_per_revolution);
  if (pulses.empty() || (pulses.size() < wanted && !any_pulses)) return false;
  report_.low = found.low * tach_scale_;
  report_.high = found.high * tach_scale_;
  report_.noise = found.noise * tach_scale_;
  report_.level = level * tach_scale_;
  report_.hysteresis = hysteresis * tach_scale_;
  edges_.emplace(level, hysteresis, tach_.edge, begin_frame_);
  return true;
}

void SpinStream::find_edges() {
  pulses_.clear();
  if (tach_channel_) {
    const auto count = static_cast<std::size_t>(end_frame_ - searched_frame_);
    if (count > 0) {
      (frame_at(searched_frame_) + *tach_channel_).visit([&](const auto* x) {
        edges_->push(x, count, channels_, pulses_);
      });
    }
    if (ended_) edges_->finish(pulses_);
  } else {
    while (times_used_ < times_.size() && times_[times_used_] <= static_cast<double>(end_frame_ - 1)) {
      if (times_[times_used_] >= 0.0) pulses_.push_back({times_[times_used_], 0.0});
      ++times_used_;
    }
  }
  searched_frame_ = end_frame_;
}

void SpinStream::feed_clock(std::vector<Pulse>& pulses) {
  for (const Pulse& pulse : pulses) {
    if (pulse.edge_frame >= static_cast<double>(begin_frame_)) {
      clock_.push(pulse, settled_);
    } else {  // a mark so long under the sensor that its samples are gone
      clock_.forget(settled_);
    }
  }
  if (ended_) clock_.finish(settled_);
  turns_.insert(turns_.end(), settled_.begin(), settled_.end());
  settled_.clear();
}

std::optional<TurnOfSamples> SpinStream::next() {
  while (turns_.empty()) {
    if (ended_ && searched_frame_ == end_frame_ && !clock_.holding()) {
      pass_over(checked_frame_, end_frame_);
      end_level_piece();
      if (const auto marks = clock_.marks_beyond_one()) throw more_marks(recording_.info().name, *marks);
      if (const auto wheel = clock_.other_wheel())
        throw other_wheel(recording_.info().name, *wheel, tach_.pulses_per_revolution);
      return std::nullopt;
    }
    if (searched_frame_ == end_frame_) {
      release();
      read_block();
    }
    find_edges();
    feed_clock(pulses_);
    if (ended_) clock_.forget(settled_);
  }
  TurnOfSamples out;
  out.turn = turns_.front();
  turns_.pop_front();
  out.first_frame = static_cast<std::int64_t>(std::ceil(out.turn.begin_frame));
  const auto end = static_cast<std::int64_t>(std::ceil(out.turn.end_frame));
  pass_over(checked_frame_, out.first_frame);
  checked_frame_ = end;
  const double step_rad =
      (out.turn.end_angle_rad - out.turn.begin_angle_rad) / (out.turn.end_frame - out.turn.begin_frame);
  out.frames = {frame_at(out.first_frame), static_cast<std::size_t>(end - out.first_frame), channels_,
                step_rad * (static_cast<double>(out.first_frame) - out.turn.begin_frame), step_rad};
  frames_per_turn_ = turn_rad / step_rad;
  if (!unseen_.empty() && unseen_.back().end_frame == out.first_frame)
    unseen_.back().frames_per_turn_behind = frames_per_turn_;
  return out;
}

TachReport SpinStream::report() const {
  TachReport report = report_;
  report.pulses = clock_.pulses();
  report.lost = clock_.lost();
  report.longest_bridge_turns = clock_.longest_lost_turns();
  report.doubled = clock_.doubled();
  report.timing_uncertainty_s = clock_.timing_uncertainty_frames() / recording_.info().sample_rate_Hz;
  return report;
}

}  // namespace counterspot
