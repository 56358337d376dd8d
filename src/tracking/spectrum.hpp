#pragma once

#include <complex>
#include <functional>
#include <optional>
#include <vector>

namespace counterspot {

/// Discrete Fourier transform Σ v_n e^{−j2πqn/L} of a series padded with zeros to L ≥ its length (FFTW).
std::vector<std::complex<double>> transform(const std::vector<std::complex<double>>& series, std::size_t length);

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
