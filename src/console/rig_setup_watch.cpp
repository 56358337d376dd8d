#include "console/rig_setup_watch.hpp"

#include <algorithm>

#include "algebra/median.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

constexpr double span_s = 0.1;
constexpr std::size_t spans_watched = 20;
constexpr double over_rest = 4.0;
constexpr double among_knocks = 2.0;  // of three quarters of the spans over the least
constexpr double least_span = 3e-5;   // of full scale, one step of 16 bits: a channel without noise is at rest too

/// The tach saw it come to a stop long enough ago. That a noisy sensor shows as much as while it turned does not speak
/// against it here: what the sensors show at rest was recorded before anything turned.
bool came_to_a_stop(const MotionEvidence& evidence) {
  using Sensors = MotionEvidence::Sensors;
  return evidence.tach == MotionEvidence::Tach::stopped && evidence.no_pulse_s >= slowest_pulse_s &&
         (evidence.sensors == Sensors::unlearned || evidence.sensors == Sensors::at_rest);
}

std::vector<double> medians_of(const std::deque<std::vector<double>>& spans) {
  std::vector<double> medians(spans.empty() ? 0 : spans.front().size());
  for (std::size_t c = 0; c < medians.size(); ++c) {
    std::vector<double> all;
    for (const auto& each : spans) all.push_back(each[c]);
    medians[c] = median_of(std::move(all));
  }
  return medians;
}

}  // namespace

void SetupWatch::push(std::span<const double> interleaved) {
  if (shaft_) shaft_->push(interleaved);
  const std::size_t channels = now_.size();
  for (std::size_t i = 0; i + channels <= interleaved.size(); i += channels) {
    for (std::size_t c = 0; c < channels; ++c) {
      now_[c].low = std::min(now_[c].low, interleaved[i + c]);
      now_[c].high = std::max(now_[c].high, interleaved[i + c]);
      lines_[c].add(interleaved[i + c]);
    }
    if (static_cast<double>(++frames_) < span_s * info_.sample_rate_Hz) continue;
    std::vector<double>& spans = spans_.emplace_back();
    for (Span& each : now_) {
      spans.push_back(each.high - each.low);
      each = {};
    }
    frames_ = 0;
    if (spans_.size() > spans_watched) spans_.pop_front();
  }
  if (motion() == SetupMotion::moving) confirmed_ = false;
}

void SetupWatch::know_rest(Recording& rest) {
  at_rest_.clear();
  if (rest.info().channels.size() != now_.size()) return;  // of another cabling
  SetupWatch watch(rest.info());
  std::deque<std::vector<double>> all;
  for (;;) {
    const auto block = rest.next(512);
    if (block.empty()) break;
    watch.push(block);
    if (!watch.spans_.empty() && watch.frames_ < 512) all.push_back(watch.spans_.back());
  }
  at_rest_ = medians_of(all);
  lines_ = std::move(watch.lines_);
  for (RestLevel& each : lines_) each.learn();
}

void SetupWatch::know_rig(std::optional<Rig> rig) {
  const bool same = rig && rig_ && rig->tach.channel == rig_->tach.channel && rig->tach.edge == rig_->tach.edge &&
                    rig->tach.level == rig_->tach.level;
  if (same) return;
  rig_ = std::move(rig);
  shaft_.reset();
  if (rig_) shaft_.emplace(info_, *rig_);
}

bool SetupWatch::vibrating() const {
  if (at_rest_.empty() || spans_.empty()) return false;
  const std::vector<double> now = medians_of(spans_);
  for (std::size_t c = 0; c < now.size(); ++c)
    if (now[c] > over_rest * std::max(at_rest_[c], info_.full_scale ? least_span : 0.0)) return true;
  return false;
}

bool SetupWatch::turns_among_knocks() const {
  if (std::ranges::any_of(lines_, &RestLevel::turns_among_knocks)) return true;
  if (at_rest_.empty() || spans_.size() < spans_watched) return false;
  for (std::size_t c = 0; c < at_rest_.size(); ++c) {
    std::vector<double> spans;
    for (const auto& each : spans_) spans.push_back(each[c]);
    std::sort(spans.begin(), spans.end());
    const double least = info_.full_scale ? least_span : 0.0;
    const bool over = spans.front() > over_rest * std::max(at_rest_[c], least);
    if (over && spans[3 * spans.size() / 4] < among_knocks * spans.front()) return true;
  }
  return false;
}

SetupMotion SetupWatch::motion() {
  if (spans_.size() < spans_watched) return SetupMotion::unheard;
  if (vibrating()) return SetupMotion::moving;
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
