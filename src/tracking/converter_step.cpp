#include "tracking/converter_step.hpp"

#include <algorithm>
#include <cmath>

namespace counterspot {
namespace {

constexpr std::size_t most_seen = 4096;
constexpr std::size_t seen_a_turn = 64;
constexpr double step_rounding = 0.01;    // of a step
constexpr double highest_bessel = 0.582;  // of J₁, at 1.84
// Of the envelope: so much holds 95 % of levels and amplitudes that are not known, by numbers (the mean output of a
// converter with Gaussian noise, averaged over both).
constexpr double share_within = 0.78;
constexpr double share_within_small = 0.72;  // under half a step, where what is seen tells less of what there is
constexpr double small_further = 0.5;        // and the further terms add this much where no noise washes them out
constexpr double small = 0.5;                // steps
constexpr double coverage_factor = 2.0;      // of the ± that is shown
constexpr double noise_reach = 3.5;          // standard deviations that some thousand samples show
constexpr double not_worth_it = 0.01;        // of the uncertainty so far: not worth an entry
constexpr double direction_known = 0.25;     // of a step

}  // namespace

StepWatch::StepWatch(std::vector<std::size_t> channels) : channels_(std::move(channels)), values_(channels_.size()) {}

void StepWatch::add(const TurnOfSamples& turn) {
  if (values_.empty() || values_.front().size() >= most_seen) return;
  const TurnFrames& f = turn.frames;
  const std::size_t every = std::max<std::size_t>(1, f.count / seen_a_turn);
  for (std::size_t s = 0; s < channels_.size(); ++s) {
    for (std::size_t n = 0; n < f.count; n += every) values_[s].push_back((f.data + channels_[s])[n * f.stride]);
  }
}

double StepWatch::step(std::size_t sensor) const {
  std::vector<double> values = values_[sensor];
  std::sort(values.begin(), values.end());
  values.erase(std::unique(values.begin(), values.end()), values.end());
  if (values.size() < 2) return 0.0;
  double least = values.back() - values.front();
  for (std::size_t i = 1; i < values.size(); ++i) least = std::min(least, values[i] - values[i - 1]);
  const bool even = std::all_of(values.begin(), values.end(), [&](double v) {
    const double steps = (v - values.front()) / least;
    return std::abs(steps - std::round(steps)) < step_rounding + 1e-12 * steps;
  });
  return even ? least : 0.0;
}

double StepWatch::range(std::size_t sensor) const {
  const auto& values = values_[sensor];
  if (values.empty()) return 0.0;
  const auto [low, high] = std::minmax_element(values.begin(), values.end());
  return *high - *low;
}

void add_converter_steps(OrderVector& vector, double step, double range, double residual_rms, double frames) {
  if (step <= 0.0) return;
  const double amplitude = vector.amplitude() / step;
  const double beside = 0.25 * vector.covariance.trace() * frames / (step * step);  // as white noise of every sample
  const double whole = residual_rms * residual_rms / (step * step);
  const double spread = std::max(0.0, (range / step - 2.0 * amplitude) / (2.0 * noise_reach));
  const double variance = std::min({std::max(0.0, std::min(beside, whole) - 1.0 / 12.0), spread * spread});
  const double washed = std::exp(-0.5 * turn_rad * turn_rad * variance);
  const double envelope = std::min(highest_bessel, 1.0 / (0.5 * turn_rad * std::sqrt(std::max(amplitude, 0.01))));
  const double share =
      amplitude < small ? share_within_small * (1.0 + small_further * washed * washed * washed) : share_within;
  const double u = share * (4.0 / turn_rad) * washed * envelope * step / coverage_factor;
  if (u * u < not_worth_it * not_worth_it * vector.covariance.trace()) return;
  const bool known = amplitude > direction_known;
  const Phasor along = known ? vector.value / std::abs(vector.value) : Phasor(0.0, 0.0);
  const Eigen::Vector2d v(along.real(), along.imag());
  const Eigen::Matrix2d covariance = u * u * (known ? Eigen::Matrix2d(v * v.transpose()) : Eigen::Matrix2d::Identity());
  vector.covariance += covariance;
  vector.budget.push_back({"steps of the converter", 'B', covariance, true});
}

}  // namespace counterspot
