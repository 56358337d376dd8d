#include "counterspot/tracking/live_tracking.hpp"

#include <cmath>
#include <deque>

#include "counterspot/units/error.hpp"
#include "tracking/budget.hpp"
#include "tracking/cells.hpp"
#include "tracking/joint_fit.hpp"
#include "tracking/live_health.hpp"
#include "tracking/order_fit.hpp"
#include "tracking/spin_stream.hpp"

namespace counterspot {
namespace {

constexpr std::size_t fewest_turns = 3;
constexpr double speed_window_s = 0.2;
constexpr double changing_by = 0.02;

/// A part of the live recording: it ends with it, or when no turn was seen for a while. Every block is shown on the
/// way.
class RunOfPulses final : public Recording {
 public:
  using Show = std::function<void(std::span<const double>)>;
  RunOfPulses(Recording& inner, double patience_s, Show show)
      : inner_(inner),
        show_(std::move(show)),
        patience_(static_cast<std::int64_t>(patience_s * inner.info().sample_rate_Hz)) {}

  const RecordingInfo& info() const override { return inner_.info(); }
  std::size_t read(std::span<double> interleaved) override {
    if (frames_ - last_turn_ > patience_) return 0;
    const std::size_t got = inner_.read(interleaved);
    over_ = got == 0;
    frames_ += static_cast<std::int64_t>(got);
    show_(interleaved.first(got * info().channels.size()));
    return got;
  }
  void turned() { last_turn_ = frames_; }
  bool over() const { return over_; }
  std::int64_t frames() const { return frames_; }

 private:
  Recording& inner_;
  Show show_;
  std::int64_t patience_;
  std::int64_t frames_ = 0;
  std::int64_t last_turn_ = 0;
  bool over_ = false;
};

/// What is kept of a turn: its place and its sums, as a collection of one cell would need them.
struct KeptTurn {
  TurnOfSamples turn;
  TurnSums sums;
};

class Follower {
 public:
  Follower(Recording& recording, const Rig& rig, ShaftWatch& watch,
           const std::function<void(const LiveReading&)>& on_reading, const LiveTrackingOptions& options)
      : recording_(recording),
        rig_(rig),
        watch_(watch),
        on_reading_(on_reading),
        options_(options),
        rate_Hz_(recording.info().sample_rate_Hz),
        health_(recording.info(), rig),
        before_(watch.frames()),
        shown_frames_(before_),
        told_frame_(before_) {
    for (const Sensor& sensor : rig.sensors)
      channels_.push_back(find_channel(recording.info(), sensor.channel, "sensor " + sensor.name));
  }

  void run() {
    for (bool over = false; !over;) {
      RunOfPulses stretch(recording_, options_.patience_s, [this](std::span<const double> block) { show(block); });
      try {
        follow_stretch(stretch);
      } catch (const Error& error) {
        if (error.code() != "no_tach") throw;
      }
      over = stretch.over();
      before_ += stretch.frames();
    }
  }

 private:
  void follow_stretch(RunOfPulses& stretch) {
    SpinStream stream(stretch, rig_.tach, channels_, block_frames());
    turns_.clear();
    health_.part();
    next_frame_ = 0.0;
    while (const auto turn = stream.next()) {
      stretch.turned();
      add(*turn);
      if (turn->turn.end_frame < next_frame_) continue;
      next_frame_ = turn->turn.end_frame + options_.every_s * rate_Hz_;
      const LiveReading now = reading(stream);
      // Turns that waited for the level to be learned, or for the shaft to stop, are not those of now.
      if (now.motion.turning == Turning::turning && is_recent(now.at_s, now.speed_rad_s)) tell(now);
    }
  }

  void tell(const LiveReading& now) {
    told_frame_ = shown_frames_;
    if (now.revolutions > 0) with_vectors_ = now;
    on_reading_(now);
  }

  /// A block on its way to the clock: somebody may be waiting for what only the watch can tell.
  void show(std::span<const double> block) {
    watch_.push(block);
    shown_frames_ += static_cast<std::int64_t>(block.size() / recording_.info().channels.size());
    const double since_s = static_cast<double>(shown_frames_ - told_frame_) / rate_Hz_;
    if (since_s >= 1.5 * options_.every_s) tell(without_turn());
  }

  LiveReading without_turn() const {
    const ShaftMotion motion = watch_.motion();
    const double now_s = static_cast<double>(shown_frames_) / rate_Hz_;
    const bool turning = motion.turning == Turning::turning;
    LiveReading now;
    if (turning && is_recent(with_vectors_.at_s, motion.speed_rad_s)) {
      now = with_vectors_;
    } else {
      now.at_s = turning ? watch_.last_pulse_s().value_or(now_s) : now_s;
      now.speed_rad_s = motion.speed_rad_s;
    }
    now.newest_s = now_s;
    now.motion = motion;
    now.speed_rad_s = newest_speed_rad_s(now);
    return now;
  }

  /// The clock's speed is that of several turns and a turn late: while it changes, the watch's newest turn is nearer.
  static double newest_speed_rad_s(const LiveReading& now) {
    const double newest = now.motion.speed_rad_s;
    return newest > 0.0 && std::abs(newest - now.speed_rad_s) > changing_by * newest ? newest : now.speed_rad_s;
  }

  /// A turn that ended then is the newest that can be known: the clock is a turn late.
  bool is_recent(double at_s, double speed_rad_s) const {
    const double turn_s = speed_rad_s > 0.0 ? turn_rad / speed_rad_s : 0.0;
    return static_cast<double>(shown_frames_) / rate_Hz_ - at_s < options_.every_s + 2.5 * turn_s;
  }

  std::size_t block_frames() const { return std::max<std::size_t>(1, static_cast<std::size_t>(0.01 * rate_Hz_)); }

  void add(const TurnOfSamples& turn) {
    KeptTurn kept{turn, {}};
    sum_turn(turn.frames, std::array{1.0}, kept.sums);
    // A stretch in which the shaft was lost from sight parts what is before from what is behind.
    if (!turns_.empty() && turns_.back().turn.turn.end_frame != turn.turn.begin_frame) {
      turns_.clear();
      health_.part();
    }
    health_.add(turn, kept.sums);
    kept.turn.frames.data = {};  // only its place is used later
    turns_.push_back(std::move(kept));
    const double oldest = turn.turn.end_frame - options_.window_s * rate_Hz_;
    while (turns_.size() > fewest_turns && turns_.front().turn.turn.begin_frame < oldest) turns_.pop_front();
  }

  double speed_rad_s() const {
    const Turn& newest = turns_.back().turn.turn;
    std::size_t first = turns_.size() - 1;
    while (first > 0 && newest.end_frame - turns_[first].turn.turn.begin_frame < speed_window_s * rate_Hz_) --first;
    const Turn& oldest = turns_[first].turn.turn;
    return (newest.end_angle_rad - oldest.begin_angle_rad) / (newest.end_frame - oldest.begin_frame) * rate_Hz_;
  }

  LiveReading reading(const SpinStream& stream) const {
    LiveReading now;
    const Turn& newest = turns_.back().turn.turn;
    now.at_s = (static_cast<double>(before_) + newest.end_frame) / rate_Hz_;
    now.newest_s = static_cast<double>(before_ + stream.frames_read()) / rate_Hz_;
    now.motion = watch_.motion();
    now.speed_rad_s = speed_rad_s();
    now.speed_rad_s = newest_speed_rad_s(now);
    if (turns_.size() < fewest_turns) return now;
    now.revolutions = static_cast<std::int64_t>(turns_.size());
    now.sensors = vectors(now, stream.report());
    now.health = health_.warnings();
    return now;
  }

  std::vector<LiveReading::Sensor> vectors(const LiveReading& now, const TachReport& tach) const {
    Cells cells({1.0}, channels_);
    for (const KeptTurn& kept : turns_)
      cells.add(kept.turn, kept.sums, padded_channels(recording_.info().channels.size()));
    const CellRange range{0, cells.size()};
    const std::vector<OrderFit> fits = fit_orders(cells, range);
    Track spin;
    spin.speed_rad_s = now.speed_rad_s;
    spin.revolutions = now.revolutions;
    spin.tach = tach;
    std::vector<LiveReading::Sensor> sensors;
    for (std::size_t s = 0; s < fits.size(); ++s) {
      const MotionUnit scale = sensor_scale(recording_.info(), rig_.sensors[s]);
      OrderVector vector = stated_vector(1, plain_fit(cells, range, s, 0, fits[s]), scale, rig_.sensors[s], spin, 0.0);
      sensors.push_back({rig_.sensors[s].name, scale.motion, std::move(vector), health_.signal(s)});
    }
    return sensors;
  }

  Recording& recording_;
  const Rig& rig_;
  ShaftWatch& watch_;
  const std::function<void(const LiveReading&)>& on_reading_;
  LiveTrackingOptions options_;
  double rate_Hz_;
  std::vector<std::size_t> channels_;
  LiveHealth health_;
  std::deque<KeptTurn> turns_;
  double next_frame_ = 0.0;
  std::int64_t before_;  // frames of the stretches before, and those that the watch had seen
  std::int64_t shown_frames_;
  std::int64_t told_frame_;
  LiveReading with_vectors_;  // the newest that has some
};

}  // namespace

void follow(Recording& recording, const Rig& rig, ShaftWatch& watch,
            const std::function<void(const LiveReading&)>& on_reading, const LiveTrackingOptions& options) {
  Follower(recording, rig, watch, on_reading, options).run();
}

}  // namespace counterspot
