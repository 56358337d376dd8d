#include "console/rig_setup_watch.hpp"

#include <cstdint>
#include <numeric>

#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

/// The tach saw it come to a stop long enough ago. That a noisy sensor shows as much as while it turned does not speak
/// against it here: what the sensors show at rest was recorded before anything turned.
bool came_to_a_stop(const MotionEvidence& evidence) {
  using Sensors = MotionEvidence::Sensors;
  return evidence.tach == MotionEvidence::Tach::stopped && evidence.no_pulse_s >= slowest_pulse_s &&
         (evidence.sensors == Sensors::unlearned || evidence.sensors == Sensors::at_rest);
}

std::vector<std::size_t> all_of(const RecordingInfo& info) {
  std::vector<std::size_t> channels(info.channels.size());
  std::iota(channels.begin(), channels.end(), 0);
  return channels;
}

}  // namespace

SetupWatch::SetupWatch(const RecordingInfo& info) : info_(info), spans_(info, all_of(info)) {}

void SetupWatch::push(std::span<const double> interleaved) {
  if (shaft_) shaft_->push(interleaved);
  spans_.push(interleaved);
  if (motion() == SetupMotion::moving) confirmed_ = false;
}

void SetupWatch::know_rest(Recording& rest) {
  at_rest_.clear();
  if (rest.info().channels.size() != info_.channels.size()) return;  // of another cabling
  ChannelSpans spans(rest.info(), all_of(rest.info()), SIZE_MAX);
  for (auto block = rest.next(512); !block.empty(); block = rest.next(512)) spans.push(block);
  at_rest_ = spans.medians();
}

void SetupWatch::know_rig(std::optional<Rig> rig) {
  const bool same = rig && rig_ && rig->tach.channel == rig_->tach.channel && rig->tach.edge == rig_->tach.edge &&
                    rig->tach.level == rig_->tach.level;
  if (same) return;
  rig_ = std::move(rig);
  shaft_.reset();
  if (rig_) shaft_.emplace(info_, *rig_);
}

bool SetupWatch::turns_among_knocks() const {
  return spans_.turns_among_knocks(at_rest_);
}

SetupMotion SetupWatch::motion() {
  if (!spans_.heard()) return SetupMotion::unheard;
  if (spans_.over(at_rest_)) return SetupMotion::moving;
  const ShaftMotion shaft = shaft_ ? shaft_->motion() : ShaftMotion{};
  const bool stopped = shaft_ && !at_rest_.empty() && came_to_a_stop(shaft.evidence);
  if (shaft_ && shaft.turning != Turning::standing && !shaft.may_be_confirmed && !stopped) return SetupMotion::moving;
  const bool seen = !shaft_ || shaft.turning == Turning::standing || stopped;
  return confirmed_ && seen ? SetupMotion::standing : SetupMotion::asked;
}

void SetupWatch::confirm() {
  const SetupMotion now = motion();
  if (now == SetupMotion::standing) return;
  if (now != SetupMotion::asked) {
    throw Error(Trouble::request, "may_turn", "what the channels show is not what they show at rest",
                "stop the drive, keep away, and say it when the shaft has stood for 10 s");
  }
  if (shaft_) shaft_->confirm_standing();
  confirmed_ = true;
}

void SetupWatch::forget() {
  confirmed_ = false;
}

}  // namespace counterspot
