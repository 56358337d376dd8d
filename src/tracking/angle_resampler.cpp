#include "tracking/angle_resampler.hpp"

#include <algorithm>
#include <cmath>

namespace counterspot {
namespace {

constexpr double kaiser_beta = 7.86;
constexpr double points_per_crossing = 512.0;  // linear in between: error under π²/3/8/512² = 2e-6

/// sinc(u)·w(u/N) for u = 0 … N.
std::vector<double> interpolating_shape(double crossings) {
  const double top = std::cyl_bessel_i(0.0, kaiser_beta);
  std::vector<double> shape;
  const auto last = static_cast<std::size_t>(crossings * points_per_crossing);
  for (std::size_t i = 0; i <= last; ++i) {
    const double u = static_cast<double>(i) / points_per_crossing;
    const double sinc = i == 0 ? 1.0 : std::sin(pi * u) / (pi * u);
    const double part = u / crossings;
    shape.push_back(sinc * std::cyl_bessel_i(0.0, kaiser_beta * std::sqrt(1.0 - part * part)) / top);
  }
  shape.push_back(0.0);
  return shape;
}

}  // namespace

AngleResampler::AngleResampler(std::size_t samples_per_turn, std::vector<std::size_t> channels,
                               std::vector<double> scales, FallOff fall_off)
    : step_rad_(turn_rad / static_cast<double>(samples_per_turn)),
      fall_off_(fall_off),
      run_(std::move(channels), std::move(scales)),
      shape_(interpolating_shape(fall_off.crossings)) {}

void AngleResampler::clear() {
  run_.clear();
  started_ = false;
}

bool AngleResampler::add(const TurnOfSamples& turn, std::vector<std::vector<double>>& out) {
  const bool joined = run_.joins(turn) && !run_.turns().empty();
  if (!joined) clear();
  run_.add(turn);
  if (!started_) next_ = static_cast<std::int64_t>(std::ceil(turn.turn.begin_angle_rad / step_rad_));
  started_ = true;
  double needed = 0.0;
  for (const Turn& t : run_.turns()) {
    const double per_rad = (t.end_frame - t.begin_frame) / (t.end_angle_rad - t.begin_angle_rad);
    const double reach = fall_off_.crossings / fall_off_.cutoff * std::max(1.0, per_rad * step_rad_);
    for (;; ++next_) {
      const double position = t.begin_frame + per_rad * (static_cast<double>(next_) * step_rad_ - t.begin_angle_rad);
      needed = position - 1.5 * reach;  // the next turn may be slower
      if (position >= t.end_frame || position + reach > static_cast<double>(run_.end_frame() - 1)) break;
      if (position - reach < static_cast<double>(run_.begin_frame())) continue;
      read(position, per_rad * step_rad_, out);
    }
  }
  run_.drop_before(std::min(static_cast<std::int64_t>(std::floor(needed)), turn.first_frame));
  return joined;
}

void AngleResampler::read(double position, double frames_per_target, std::vector<std::vector<double>>& out) {
  const double c = fall_off_.cutoff / std::max(1.0, frames_per_target);
  const double reach = fall_off_.crossings / c;
  const auto first = static_cast<std::int64_t>(std::ceil(position - reach));
  const auto last = static_cast<std::int64_t>(std::floor(position + reach));
  const auto count = static_cast<std::int32_t>(last - first + 1);
  const double points = c * points_per_crossing;  // of the shape, from sample to sample
  const double middle = position - static_cast<double>(first);
  weights_.resize(count);
  for (std::int32_t i = 0; i < count; ++i) {
    const double place = std::abs(middle - i) * points;
    const auto index = static_cast<std::int32_t>(place);
    const double* shape = shape_.data() + index;
    weights_[i] = shape[0] + (place - index) * (shape[1] - shape[0]);
  }
  const double sum = weights_.sum();
  for (std::size_t s = 0; s < run_.sensors(); ++s)
    out[s].push_back(weights_.dot(Eigen::Map<const Eigen::VectorXd>(run_.at(s, first), count)) / sum);
}

}  // namespace counterspot
