#pragma once

#include <complex>
#include <cstddef>
#include <span>
#include <vector>

#include "tracking/frame_buffer.hpp"

namespace counterspot {

/// Frames of one turn, as they lie in the buffer: `stride` samples per frame, channels side by side. Behind the last
/// one `frame_padding` samples are readable.
struct TurnFrames {
  Samples data;
  std::size_t count = 0;
  std::size_t stride = 0;
  double first_angle_rad = 0.0;  ///< shaft angle of the first frame
  double step_rad = 0.0;         ///< per frame
};

/// Sums over the frames of a turn, of one channel.
struct LevelSums {
  double sum = 0.0;
  double square = 0.0;
  double largest_square = 0.0;
};

/// Over every channel at once: Σx, Σx², max x², and Σ x e^{jkθ} for each order k. The vectors are [channel] and
/// [order][channel], with room for a whole number of four channels (see padded_channels).
struct TurnSums {
  std::vector<LevelSums> levels;
  std::vector<std::complex<double>> orders;
};

constexpr std::size_t padded_channels(std::size_t channels) {
  return (channels + 3) / 4 * 4;
}

void sum_turn(const TurnFrames& frames, std::span<const double> orders, TurnSums& sums);

/// Σ_{n=0}^{count−1} e^{jm(first + n·step)}, the geometric series in closed form.
std::complex<double> sum_of_phasors(double m, double first_angle_rad, double step_rad, double count);

}  // namespace counterspot
