#include "tracking/spectrum.hpp"

#include <fftw3.h>

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <memory>
#include <mutex>
#include <type_traits>

#include "algebra/rank.hpp"
#include "counterspot/units/angle.hpp"

namespace counterspot {
namespace {

constexpr double beside_cycles = 24.0;
constexpr double peak_cycles = 3.0;  // the main lobe is left out of the noise

/// FFTW's planner is the one part of it that must not run twice at a time.
std::mutex& planner() {
  static std::mutex mutex;
  return mutex;
}
struct DestroyPlan {
  void operator()(fftw_plan plan) const {
    const std::lock_guard lock(planner());
    fftw_destroy_plan(plan);
  }
};
using PlanHandle = std::unique_ptr<std::remove_pointer_t<fftw_plan>, DestroyPlan>;

}  // namespace

struct Transform::Plan {
  explicit Plan(std::span<std::complex<double>> values) {
    auto* data = reinterpret_cast<fftw_complex*>(values.data());  // std::complex is laid out for this (C++20, 26.4)
    const std::lock_guard lock(planner());
    forward.reset(fftw_plan_dft_1d(static_cast<int>(values.size()), data, data, FFTW_FORWARD, FFTW_ESTIMATE));
  }
  PlanHandle forward;
};

Transform::Transform(std::size_t length) : values_(length), plan_(std::make_unique<Plan>(values_)) {}
Transform::~Transform() = default;

void Transform::run() {
  fftw_execute(plan_->forward.get());
}

struct PowerSpectrum::Plan {
  explicit Plan(std::size_t count)
      : window(count),
        windowed(fftw_alloc_real(count)),
        lines(fftw_alloc_complex(count / 2 + 1)),
        powers(count / 2 + 1) {
    for (std::size_t n = 0; n <= count / 2; ++n) {  // the other half mirrors it
      const double c = std::cos(turn_rad * static_cast<double>(n) / static_cast<double>(count));
      const double cos_2x = 2.0 * c * c - 1.0;
      const double cos_3x = c * (2.0 * cos_2x - 1.0);
      window[n] = 0.35875 - 0.48829 * c + 0.14128 * cos_2x - 0.01168 * cos_3x;
      if (n > 0) window[count - n] = window[n];
    }
    for (const double w : window) square += w * w;
    const std::lock_guard lock(planner());
    forward.reset(fftw_plan_dft_r2c_1d(static_cast<int>(count), windowed.get(), lines.get(), FFTW_ESTIMATE));
  }
  struct Free {
    void operator()(void* values) const { fftw_free(values); }
  };
  std::vector<double> window;
  double square = 0.0;  // of the window
  std::unique_ptr<double[], Free> windowed;
  std::unique_ptr<fftw_complex[], Free> lines;
  std::vector<double> powers;
  PlanHandle forward;
};

PowerSpectrum::PowerSpectrum() = default;
PowerSpectrum::PowerSpectrum(PowerSpectrum&&) noexcept = default;
PowerSpectrum& PowerSpectrum::operator=(PowerSpectrum&&) noexcept = default;
PowerSpectrum::~PowerSpectrum() = default;

std::span<const double> PowerSpectrum::of(std::span<const double> samples) {
  if (!plan_ || plan_->window.size() != samples.size()) plan_ = std::make_unique<Plan>(samples.size());
  Plan& plan = *plan_;
  const double mean =
      Eigen::Map<const Eigen::ArrayXd>(samples.data(), static_cast<Eigen::Index>(samples.size())).mean();
  for (std::size_t n = 0; n < samples.size(); ++n) plan.windowed[n] = plan.window[n] * (samples[n] - mean);
  fftw_execute(plan.forward.get());
  const double unit = 1.0 / plan.square;
  for (std::size_t i = 0; i < plan.powers.size(); ++i) {
    const double* line = plan.lines[i];
    plan.powers[i] = unit * (line[0] * line[0] + line[1] * line[1]);
  }
  return plan.powers;
}

std::optional<SpectralPeak> strongest_peak(const std::vector<double>& power, double per_cycle, double highest_cycles,
                                           double least_noise, const std::function<bool(double)>& allowed) {
  const auto size = static_cast<std::ptrdiff_t>(power.size());
  const auto at = [&](std::ptrdiff_t q) {
    return power[static_cast<std::size_t>(std::clamp<std::ptrdiff_t>(q, 0, size - 1))];
  };
  const auto beside = static_cast<std::ptrdiff_t>(beside_cycles * per_cycle);
  const auto lobe = static_cast<std::ptrdiff_t>(peak_cycles * per_cycle);
  const auto highest = std::min(static_cast<std::ptrdiff_t>(highest_cycles * per_cycle), size - 2);
  std::optional<SpectralPeak> best;
  std::vector<double> noise;
  for (std::ptrdiff_t q = 1; q <= highest; ++q) {
    const double here = at(q);
    if (here < at(q - 1) || here < at(q + 1) || !allowed(static_cast<double>(q) / per_cycle)) continue;
    noise.clear();
    for (std::ptrdiff_t d = lobe; d <= beside; ++d) {
      if (q - d > 0) noise.push_back(at(q - d));
      if (q + d < size) noise.push_back(at(q + d));
    }
    if (noise.empty()) continue;
    // counting tells sooner than sorting that a peak is no higher over its noise than the best, or than three times it
    const double low_enough = std::log(2.0) * here / (best ? std::max(3.0, best->over_noise) : 3.0);
    const auto low = std::count_if(noise.begin(), noise.end(), [&](double n) { return n < low_enough; });
    if (2 * static_cast<std::size_t>(low) <= noise.size()) continue;
    const double mean = std::max(value_at_rank(noise, noise.size() / 2) / std::log(2.0), least_noise);
    const double ratio = mean > 0.0 ? here / mean : 0.0;
    if (!best || ratio > best->over_noise) best = SpectralPeak{static_cast<double>(q) / per_cycle, ratio};
  }
  return best;
}

}  // namespace counterspot
