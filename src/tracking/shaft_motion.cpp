#include "counterspot/tracking/shaft_motion.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "counterspot/units/units.hpp"
#include "tracking/live_tach.hpp"
#include "tracking/rest_level.hpp"

namespace counterspot {
namespace {

using Tach = MotionEvidence::Tach;
using Sensors = MotionEvidence::Sensors;

std::string words_of(MotionDoubt doubt, const MotionEvidence& evidence) {
  constexpr const char* may_turn = "the shaft may be turning";
  switch (doubt) {
    case MotionDoubt::tach_lost: return "the tach is lost, the shaft may be turning";
    case MotionDoubt::tach_lost_at:
      return fmt::format("the tach is lost, last seen at {:.0f} rpm: {}", rpm(evidence.last_speed_rad_s), may_turn);
    case MotionDoubt::no_pulse:
      return fmt::format("{}: no pulse for {:.0f} of {:.0f} s", may_turn, evidence.no_pulse_s, slowest_pulse_s);
    case MotionDoubt::as_when_turning:
      return fmt::format(
          "{}: the sensors show half or more of what they showed while it turned. If you see that it stands, lock the "
          "drive out, and stop and start this program",
          may_turn);
    case MotionDoubt::no_pulse_yet: return fmt::format("{}: the tach has shown no pulse yet", may_turn);
    case MotionDoubt::vibrating: return fmt::format("{}: sensor {} shows more than at rest", may_turn, evidence.sensor);
    case MotionDoubt::gone: return fmt::format("{}: sensor {} shows far less than at rest", may_turn, evidence.sensor);
    case MotionDoubt::no_signal: return fmt::format("{}: sensor {} has no signal", may_turn, evidence.sensor);
    case MotionDoubt::rest_unknown: break;
  }
  return fmt::format("{}: what the sensors show at rest is not known", may_turn);
}

}  // namespace

const char* turning_name(Turning turning) {
  switch (turning) {
    case Turning::turning: return "turning";
    case Turning::standing: return "standing";
    case Turning::unknown: return "unknown";
  }
  return "unknown";
}

const char* motion_doubt_name(MotionDoubt doubt) {
  switch (doubt) {
    case MotionDoubt::tach_lost: return "tach_lost";
    case MotionDoubt::tach_lost_at: return "tach_lost_at";
    case MotionDoubt::no_pulse: return "no_pulse";
    case MotionDoubt::as_when_turning: return "as_when_turning";
    case MotionDoubt::no_pulse_yet: return "no_pulse_yet";
    case MotionDoubt::vibrating: return "vibrating";
    case MotionDoubt::gone: return "gone";
    case MotionDoubt::no_signal: return "no_signal";
    case MotionDoubt::rest_unknown: return "rest_unknown";
  }
  return "rest_unknown";
}

MotionDoubt doubt_of(const MotionEvidence& evidence) {
  if (evidence.tach == Tach::lost)
    return evidence.last_speed_rad_s > 0.0 ? MotionDoubt::tach_lost_at : MotionDoubt::tach_lost;
  if (evidence.no_pulse_s < slowest_pulse_s) return MotionDoubt::no_pulse;
  if (evidence.shakes_as_when_turning() && evidence.sensors == Sensors::unlearned) return MotionDoubt::as_when_turning;
  if (evidence.tach == Tach::silent) return MotionDoubt::no_pulse_yet;
  switch (evidence.sensors) {
    case Sensors::vibrating: return MotionDoubt::vibrating;
    case Sensors::gone: return MotionDoubt::gone;
    case Sensors::no_signal: return MotionDoubt::no_signal;
    case Sensors::unlearned:
    case Sensors::at_rest: break;
  }
  return MotionDoubt::rest_unknown;
}

ShaftMotion motion_of(const MotionEvidence& evidence) {
  ShaftMotion motion;
  motion.evidence = evidence;
  motion.last_speed_rad_s = evidence.last_speed_rad_s;
  motion.tach_lost = evidence.tach == Tach::lost;
  if (evidence.tach == Tach::pulsing) {
    motion.turning = Turning::turning;
    motion.speed_rad_s = evidence.speed_rad_s;
    motion.words = "turning";
    return motion;
  }
  const bool silent_long = evidence.no_pulse_s >= slowest_pulse_s;
  if (evidence.tach == Tach::stopped && silent_long && evidence.sensors == Sensors::at_rest) {
    motion.turning = Turning::standing;
    motion.words = "standing";
    return motion;
  }
  motion.may_be_confirmed = silent_long && !evidence.shakes_as_when_turning() && evidence.sensors != Sensors::no_signal;
  motion.words = words_of(doubt_of(evidence), evidence);
  return motion;
}

struct ShaftWatch::Inside {
  struct Watched {
    std::string name;
    std::size_t channel;
    RestLevel level;
  };
  std::size_t channels;
  std::vector<Watched> sensors;
  std::optional<std::size_t> tach_channel;
  LiveTach tach;
};

ShaftWatch::ShaftWatch(const RecordingInfo& info, const Rig& rig) {
  const bool in_volts = info.full_scale && rig.tach.full_scale_V;
  inside_ = std::make_unique<Inside>(Inside{
      info.channels.size(), {}, {}, LiveTach(rig.tach, in_volts ? *rig.tach.full_scale_V : 1.0, info.sample_rate_Hz)});
  for (const Sensor& sensor : rig.sensors) {
    inside_->sensors.push_back(
        {sensor.name, find_channel(info, sensor.channel, "sensor " + sensor.name), RestLevel(info.sample_rate_Hz)});
  }
  inside_->tach_channel = find_tach_channel(info, rig.tach);
}

ShaftWatch::~ShaftWatch() = default;

void ShaftWatch::push(std::span<const double> interleaved) {
  const std::size_t channels = inside_->channels;
  std::vector<double> tach;
  for (std::size_t i = 0; i + channels <= interleaved.size(); i += channels) {
    for (Inside::Watched& sensor : inside_->sensors) sensor.level.add(interleaved[i + sensor.channel]);
    tach.push_back(inside_->tach_channel ? interleaved[i + *inside_->tach_channel] : 0.0);
  }
  inside_->tach.push(std::move(tach));
  if (inside_->tach.state() != Tach::pulsing) return;
  for (Inside::Watched& sensor : inside_->sensors) sensor.level.shaft_turns();
}

/// The gravest that a sensor shows; without a sensor nothing is known of rest.
MotionEvidence ShaftWatch::evidence() const {
  MotionEvidence now;
  now.tach = inside_->tach.state();
  now.speed_rad_s = inside_->tach.speed_rad_s();
  now.last_speed_rad_s = inside_->tach.last_speed_rad_s();
  now.no_pulse_s = inside_->tach.silent_s();
  auto gravity = [](Sensors state) {
    constexpr std::array order = {Sensors::at_rest, Sensors::unlearned, Sensors::gone, Sensors::vibrating,
                                  Sensors::no_signal};
    return std::find(order.begin(), order.end(), state) - order.begin();
  };
  if (!inside_->sensors.empty()) now.sensors = Sensors::at_rest;
  for (const Inside::Watched& sensor : inside_->sensors) {
    const Sensors state = sensor.level.state();
    now.as_when_turning = now.as_when_turning || sensor.level.as_when_turning();
    if (gravity(state) <= gravity(now.sensors)) continue;
    now.sensors = state;
    now.sensor = sensor.name;
  }
  return now;
}

bool ShaftWatch::turns_among_knocks() const {
  return std::ranges::any_of(inside_->sensors, &RestLevel::turns_among_knocks, &Inside::Watched::level);
}

std::int64_t ShaftWatch::frames() const {
  return inside_->tach.frames();
}

std::optional<double> ShaftWatch::last_pulse_s() const {
  return inside_->tach.last_pulse_s();
}

bool ShaftWatch::confirm_standing() {
  if (!motion().may_be_confirmed) return false;
  for (const Inside::Watched& sensor : inside_->sensors)
    if (!sensor.level.may_learn()) return false;
  for (Inside::Watched& sensor : inside_->sensors) sensor.level.learn();
  inside_->tach.confirm_stopped();
  return true;
}

}  // namespace counterspot
