#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace counterspot {

/// Squared peak amplitudes of the lines 0 … lines−1 of a stretch: mean off, Hann window, Fourier transform, scaled so
/// that a cosine on a line shows its amplitude (Welch 1967, IEEE Trans. AU-15; Harris 1978, Proc. IEEE 66(1) for the
/// window: coherent gain ½, noise bandwidth 1.5 lines). Adds them to `powers`. @pre lines ≤ half the stretch + 1.
void add_powers(std::span<const double> stretch, std::span<double> powers);

/// Equivalent noise bandwidth of a line of the above, in lines.
inline constexpr double hann_noise_bandwidth = 1.5;

}  // namespace counterspot
