#include "tracking/live_health.hpp"

#include <algorithm>
#include <cmath>

namespace counterspot {
namespace {

constexpr std::size_t newest_turns = 3;
constexpr double same_speed = 0.02;
constexpr double fallen_to = 0.1;  // what a beat between shaft and neighbour hardly reaches within a whole turn

}  // namespace

LiveHealth::LiveHealth(const RecordingInfo& info, const Rig& rig)
    : info_(info), channels_(sensor_channels(info, rig)), sensors_(channels_.channels.size()) {
  begin_stretch();
}

void LiveHealth::begin_stretch() {
  gatherer_.emplace(info_.sample_rate_Hz, channels_.channels);
  for (std::size_t s = 0; s < sensors_.size(); ++s) sensors_[s].watch.emplace(info_, channels_.channels[s]);
}

void LiveHealth::part() {
  sensors_ = std::vector<OfSensor>(channels_.channels.size());
  frames_per_turn_ = 0.0;
  begin_stretch();
}

void LiveHealth::add(const TurnOfSamples& turn, const TurnSums& sums) {
  bool begins_to_be_doubted = false;
  for (std::size_t s = 0; s < sensors_.size(); ++s) {
    OfSensor& sensor = sensors_[s];
    const bool before = !sensor.turns.empty() && sensor.turns.back().doubted;
    sensor.turns.push_back(look_at(s, turn, sums.levels[channels_.channels[s]]));
    if (sensor.turns.size() > newest_turns) sensor.turns.pop_front();
    if (sensor.turns.back().doubted && !before) begins_to_be_doubted = true;
    sensor.watch->add(turn, sums.levels[channels_.channels[s]]);
  }
  if (begins_to_be_doubted) return begin_stretch();  // the next one holds nothing of before
  const Stretch* stretch = gatherer_->add(turn);
  if (stretch == nullptr) return;
  for (std::size_t s = 0; s < sensors_.size(); ++s) judge(s, *stretch);
  frames_per_turn_ = static_cast<double>(turn.frames.count);
  begin_stretch();
}

LiveHealth::OfTurn LiveHealth::look_at(std::size_t sensor, const TurnOfSamples& turn, const LevelSums& level) const {
  ChannelWatch watch(info_, channels_.channels[sensor]);
  watch.add(turn, level);
  OfTurn seen;
  seen.still = watch.dead();
  seen.doubted = seen.still || hardly_shows(sensors_[sensor], watch.rms(), static_cast<double>(turn.frames.count));
  if (seen.still) watch.report(as_track(sensor), seen.found);
  return seen;
}

/// What was looked at at this speed and found to be a sensor's is the measure.
bool LiveHealth::hardly_shows(const OfSensor& sensor, double rms, double frames_per_turn) const {
  const bool same = std::abs(frames_per_turn - frames_per_turn_) < same_speed * frames_per_turn_;
  if (same && sensor.rms && rms < fallen_to * *sensor.rms) return true;
  const double open_input = info_.full_scale ? ChannelWatch::open_input_fraction : 0.0;
  return rms < open_input && !(same && sensor.rms && *sensor.rms < open_input);
}

SensorTrack LiveHealth::as_track(std::size_t sensor) const {
  SensorTrack track;
  track.name = channels_.names[sensor];
  track.motion = channels_.motions[sensor];
  return track;
}

void LiveHealth::judge(std::size_t s, const Stretch& stretch) {
  OfSensor& sensor = sensors_[s];
  sensor.watch->add(stretch, s, spectrum_.of(stretch.channels[s]));
  Track spin;
  spin.duration_s =
      (static_cast<double>(stretch.first_frame) + static_cast<double>(stretch.frames())) / info_.sample_rate_Hz;
  SensorTrack track = as_track(s);
  sensor.watch->describe(track, spin, channels_.scales[s]);
  // In the noise of one stretch something may seem to turn by chance: what was quiet has to seem so twice.
  const bool dead = sensor.watch->dead();
  const bool quiet = !dead && sensor.watch->quiet(track);
  sensor.none = dead || quiet || (sensor.none && sensor.was_quiet);
  sensor.was_quiet = quiet;
  if (!sensor.none || dead || quiet) {
    sensor.found.clear();
    sensor.watch->report(track, sensor.found);
  }
  sensor.rms = sensor.watch->rms();
  // A stretch behind the fall was looked at: it is believed, as what it was found to be.
  for (OfTurn& turn : sensor.turns) turn.doubted = turn.still;
}

bool LiveHealth::has_stopped(const OfSensor& sensor) {
  const auto still =
      std::count_if(sensor.turns.begin(), sensor.turns.end(), [](const OfTurn& turn) { return turn.still; });
  return sensor.turns.size() == newest_turns && 2 * static_cast<std::size_t>(still) >= newest_turns;
}

LiveSignal LiveHealth::signal(std::size_t s) const {
  const OfSensor& sensor = sensors_[s];
  if (sensor.none || has_stopped(sensor)) return LiveSignal::none;
  const bool doubted =
      std::any_of(sensor.turns.begin(), sensor.turns.end(), [](const OfTurn& turn) { return turn.doubted; });
  return doubted ? LiveSignal::doubted : LiveSignal::good;
}

Warnings LiveHealth::warnings() const {
  Warnings all;
  for (const OfSensor& sensor : sensors_) {
    const Warnings& now = has_stopped(sensor) ? sensor.turns.back().found : sensor.found;
    all.insert(all.end(), now.begin(), now.end());
  }
  return all;
}

}  // namespace counterspot
