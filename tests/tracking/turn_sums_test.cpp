#include "tracking/turn_sums.hpp"

#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include <vector>

using namespace counterspot;

namespace {

/// Noise, channels side by side, with the padding that is read and does not count.
template <typename Sample>
std::vector<Sample> noise(std::size_t frames, std::size_t channels) {
  std::mt19937 random(7);
  std::normal_distribution<Sample> normal(Sample{0}, Sample{1});
  std::vector<Sample> samples(frames * channels + frame_padding, Sample{1e9F});
  std::generate_n(samples.begin(), frames * channels, [&] { return normal(random); });
  return samples;
}

/// The definitions, term by term. @return how far the sums are from them, in standard deviations of a sample.
double departure(const TurnFrames& frames, std::span<const double> orders, const TurnSums& sums) {
  long double worst = 0.0L;
  for (std::size_t channel = 0; channel < frames.stride; ++channel) {
    const auto x = [&](std::size_t n) { return static_cast<long double>(frames.data[n * frames.stride + channel]); };
    long double sum = 0.0L, square = 0.0L, largest = 0.0L;
    for (std::size_t n = 0; n < frames.count; ++n) {
      sum += x(n);
      square += x(n) * x(n);
      largest = std::max(largest, x(n) * x(n));
    }
    const LevelSums& level = sums.levels[channel];
    worst = std::max(
        {worst, std::abs(sum - level.sum), std::abs(square - level.square), std::abs(largest - level.largest_square)});
    for (std::size_t o = 0; o < orders.size(); ++o) {
      long double cosine = 0.0L, sine = 0.0L;
      for (std::size_t n = 0; n < frames.count; ++n) {
        const long double angle =
            static_cast<long double>(orders[o]) *
            (static_cast<long double>(frames.first_angle_rad) + static_cast<long double>(n) * frames.step_rad);
        cosine += x(n) * std::cos(angle);
        sine += x(n) * std::sin(angle);
      }
      const auto measured = sums.orders[o * padded_channels(frames.stride) + channel];
      worst = std::max({worst, std::abs(cosine - measured.real()), std::abs(sine - measured.imag())});
    }
  }
  return static_cast<double>(worst);
}

}  // namespace

TEMPLATE_TEST_CASE("The sums of a turn are what their definitions say, however many frames and channels it has", "",
                   float, double) {
  constexpr std::array orders = {0.5, 1.0, 7.0};
  for (const std::size_t channels : {1U, 3U, 4U, 6U}) {
    for (std::size_t count = 1; count <= 100; ++count) {
      const std::vector<TestType> samples = noise<TestType>(count, channels);
      const TurnFrames frames{samples.data(), count, channels, 0.3, 6.28 / static_cast<double>(count)};
      TurnSums sums;
      sum_turn(frames, orders, sums);
      CAPTURE(channels, count);
      CHECK(departure(frames, orders, sums) < 1e-12 * static_cast<double>(count));
    }
  }
}

TEST_CASE("The phasor of a turn of half a million frames does not run away") {
  constexpr std::array orders = {1.0, 100.0};
  constexpr std::size_t count = 500'000;
  const std::vector<double> samples = noise<double>(count, 1);
  const TurnFrames frames{samples.data(), count, 1, -1.0, 6.28 / static_cast<double>(count)};
  TurnSums sums;
  sum_turn(frames, orders, sums);
  CHECK(departure(frames, orders, sums) < 1e-7);  // the sum of that many samples wanders by 700
}
