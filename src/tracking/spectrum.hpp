#pragma once

#include <complex>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <vector>

namespace counterspot {

/// Discrete Fourier transforms Σ v_n e^{−j2πqn/L} of series of one length, in place (FFTW): the plan is made once.
class Transform {
 public:
  explicit Transform(std::size_t length);
  Transform(const Transform&) = delete;
  Transform& operator=(const Transform&) = delete;
  ~Transform();

  /// What is transformed, and then the transform.
  std::span<std::complex<double>> values() { return values_; }
  void run();

 private:
  struct Plan;
  std::vector<std::complex<double>> values_;
  std::unique_ptr<Plan> plan_;
};

/// Spectra of real series of one length after another: what only the length decides, window and plan, is made once.
/// Window: four-term Blackman–Harris (Harris 1978, Proc. IEEE 66(1): side lobes at −92 dB, noise bandwidth 2.0 lines).
class PowerSpectrum {
 public:
  PowerSpectrum();
  PowerSpectrum(PowerSpectrum&&) noexcept;
  PowerSpectrum& operator=(PowerSpectrum&&) noexcept;
  ~PowerSpectrum();

  /// Powers of the lines 0 … N/2 of what is left without the mean, so that white noise of variance 1 has a mean of 1 in
  /// each; good until the next call. @param samples an even number.
  std::span<const double> of(std::span<const double> samples);

 private:
  struct Plan;
  std::unique_ptr<Plan> plan_;
};

struct SpectralPeak {
  double cycles = 0.0;      ///< over the series
  double over_noise = 0.0;  ///< power over the mean noise beside it
};

/// The highest peak of a spectrum over the noise beside it, up to `highest_cycles` and where `allowed` says so. The
/// noise is the median power within 24 cycles on either side, over ln 2 (the median of an exponential distribution),
/// and at least `least_noise` (power of a bin).
/// @param power from 0 up, `per_cycle` bins for each cycle over the series; Hann window.
std::optional<SpectralPeak> strongest_peak(const std::vector<double>& power, double per_cycle, double highest_cycles,
                                           double least_noise, const std::function<bool(double)>& allowed);

}  // namespace counterspot
