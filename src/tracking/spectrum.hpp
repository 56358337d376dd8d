#pragma once

#include <complex>
#include <optional>
#include <vector>

namespace counterspot {

/// Discrete Fourier transform Σ v_n e^{−j2πqn/L} of a series padded with zeros to L ≥ its length (FFTW).
std::vector<std::complex<double>> transform(const std::vector<std::complex<double>>& series, std::size_t length);

struct SpectralPeak {
  double cycles_per_value = 0.0;  ///< in (−½, ½]
  double over_noise = 0.0;        ///< power over the mean noise beside it
};

/// The highest peak of a complex series over the noise beside it, at least `fewest_cycles` cycles over the series away
/// from zero. The noise is the median power within 24 cycles on either side, over ln 2 (the median of an exponential
/// distribution), and at least `least_noise` (power of a bin).
std::optional<SpectralPeak> strongest_peak(const std::vector<std::complex<double>>& series, double fewest_cycles,
                                           double least_noise);

}  // namespace counterspot
