#include "tracking/angle_resampler.hpp"

#include <algorithm>
#include <cmath>

namespace counterspot {
namespace {

constexpr double crossings_per_transition = 5.0;  // at 80 dB, transition in half the rate

}  // namespace

FallOff flat_up_to(double order, std::size_t samples_per_turn) {
  const double half_rate = 0.5 * static_cast<double>(samples_per_turn);
  const double half_transition = std::max(0.25, 1.0 - order / half_rate);
  return {crossings_per_transition / (2.0 * half_transition), 1.0};
}

AngleResampler::AngleResampler(std::size_t samples_per_turn, std::vector<std::size_t> channels,
                               std::vector<double> scales, FallOff fall_off)
    : step_rad_(turn_rad / static_cast<double>(samples_per_turn)),
      cutoff_(fall_off.cutoff),
      function_(fall_off.crossings),
      run_(std::move(channels), std::move(scales)) {}

void AngleResampler::clear() {
  run_.clear();
  lately_.clear();
  slopes_.clear();
  started_ = false;
}

/// From the slowness of the middle of this turn and of the earliest that is remembered.
double AngleResampler::slope_of(const Turn& turn) {
  constexpr std::size_t turns_back = 4;
  const auto slowness = [](const Turn& t) {
    return (t.end_frame - t.begin_frame) / (t.end_angle_rad - t.begin_angle_rad);
  };
  const auto middle_rad = [](const Turn& t) { return 0.5 * (t.begin_angle_rad + t.end_angle_rad); };
  lately_.push_back(turn);
  if (lately_.size() > turns_back + 1) lately_.pop_front();
  const Turn& before = lately_.front();
  if (lately_.size() == 1) return 0.0;
  // A shaft gains less in a turn; what gains more is a mark misread, and must not put samples in another order.
  const double most = 0.5 * slowness(turn) / turn_rad;
  return std::clamp((slowness(turn) - slowness(before)) / (middle_rad(turn) - middle_rad(before)), -most, most);
}

/// The first target at this angle or behind it. A mark lies on a target but for rounding, and which turn's filter reads
/// there is none of rounding's business: on another processor it would be the other one.
std::int64_t AngleResampler::target_from(double angle_rad) const {
  constexpr double rounding = 1e-6;  // of a step: far more than that of any angle, far less than matters
  return static_cast<std::int64_t>(std::ceil(angle_rad / step_rad_ - rounding));
}

bool AngleResampler::add(const TurnOfSamples& turn, std::vector<std::vector<double>>& out) {
  const bool joined = run_.joins(turn) && !run_.turns().empty();
  if (!joined) clear();
  run_.add(turn);
  slopes_.push_back(slope_of(turn.turn));
  if (!started_) next_ = target_from(turn.turn.begin_angle_rad);
  started_ = true;
  if (lately_.size() == 1) return joined;  // how its speed changes is not known before the next
  if (lately_.size() == 2) slopes_.front() = slopes_.back();
  run_.drop_before(std::min(static_cast<std::int64_t>(std::floor(read_on(out))), turn.first_frame));
  while (slopes_.size() > run_.turns().size()) slopes_.pop_front();
  return joined;
}

double AngleResampler::read_on(std::vector<std::vector<double>>& out) {
  double needed = 0.0;
  for (std::size_t i = 0; i < run_.turns().size(); ++i) {
    const Turn& t = run_.turns()[i];
    const double per_rad = (t.end_frame - t.begin_frame) / (t.end_angle_rad - t.begin_angle_rad);
    const double reach = function_.crossings() / cutoff_ * std::max(1.0, per_rad * step_rad_);
    for (const std::int64_t end = target_from(t.end_angle_rad); next_ < end; ++next_) {
      const double angle_rad = static_cast<double>(next_) * step_rad_;
      const double along_rad = angle_rad - t.begin_angle_rad;
      const double position =
          t.begin_frame + per_rad * along_rad - 0.5 * slopes_[i] * along_rad * (t.end_angle_rad - angle_rad);
      needed = position - 1.5 * reach;  // the next turn may be slower
      if (position + reach > static_cast<double>(run_.end_frame() - 1)) return needed;
      if (position - reach < static_cast<double>(run_.begin_frame())) continue;
      read(position, per_rad * step_rad_, out);
    }
  }
  return needed;
}

void AngleResampler::read(double position, double frames_per_target, std::vector<std::vector<double>>& out) {
  const double c = cutoff_ / std::max(1.0, frames_per_target);
  const double reach = function_.crossings() / c;
  const auto first = static_cast<std::int64_t>(std::ceil(position - reach));
  const auto last = static_cast<std::int64_t>(std::floor(position + reach));
  const auto count = last - first + 1;
  function_.fill((static_cast<double>(first) - position) * c, c, static_cast<std::size_t>(count), weights_);
  const Eigen::Map<const Eigen::VectorXd> weights(weights_.data(), count);
  const double sum = weights.sum();
  for (std::size_t s = 0; s < run_.sensors(); ++s)
    out[s].push_back(weights.dot(Eigen::Map<const Eigen::VectorXd>(run_.at(s, first), count)) / sum);
}

}  // namespace counterspot
