#include "tracking/turn_sums.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>

#include "recording/clones.hpp"

namespace counterspot {
namespace {

using Quad = double __attribute__((vector_size(32)));  // four channels of a frame, or four frames of one phasor

constexpr std::size_t run =
    8;  // frames whose phasors are advanced together, so that the recurrence does not set the pace

/// e^{jk(θ + i·step)} for i = 0 … 7, and the turn from one run of eight to the next.
struct PhasorRun {
  double cosine[run];
  double sine[run];
  double run_cosine;
  double run_sine;
};

struct QuadSums {
  double sum[4];
  double square[4];
  double largest_square[4];
  double cosine[4];
  double sine[4];
};

PhasorRun phasors_from(double angle_rad, double step_rad) {
  PhasorRun phasors{};
  for (std::size_t i = 0; i < run; ++i) {
    phasors.cosine[i] = std::cos(angle_rad + static_cast<double>(i) * step_rad);
    phasors.sine[i] = std::sin(angle_rad + static_cast<double>(i) * step_rad);
  }
  phasors.run_cosine = std::cos(static_cast<double>(run) * step_rad);
  phasors.run_sine = std::sin(static_cast<double>(run) * step_rad);
  return phasors;
}

/// Four neighbouring channels of every frame: whole runs of eight, even and odd frames in sums of their own, then the
/// rest one by one.
COUNTERSPOT_CLONES
void sum_quad(const double* x, std::size_t count, std::size_t stride, const PhasorRun& start, QuadSums& out) {
  Quad c0, c1, s0, s1;
  std::memcpy(&c0, start.cosine, sizeof c0);
  std::memcpy(&c1, start.cosine + 4, sizeof c1);
  std::memcpy(&s0, start.sine, sizeof s0);
  std::memcpy(&s1, start.sine + 4, sizeof s1);
  const double turn_c = start.run_cosine;
  const double turn_s = start.run_sine;
  Quad sum[2] = {}, square[2] = {}, largest[2] = {}, cosine[2] = {}, sine[2] = {};
  std::size_t left = count;
  for (; left > 0; left -= std::min(left, run)) {
    double c[run], s[run];
    std::memcpy(c, &c0, sizeof c0);
    std::memcpy(c + 4, &c1, sizeof c1);
    std::memcpy(s, &s0, sizeof s0);
    std::memcpy(s + 4, &s1, sizeof s1);
    if (left < run) {
      for (std::size_t i = 0; i < left; ++i, x += stride) {
        Quad v;
        std::memcpy(&v, x, sizeof v);
        const Quad v2 = v * v;
        sum[0] += v;
        square[0] += v2;
        largest[0] = v2 > largest[0] ? v2 : largest[0];
        cosine[0] += v * c[i];
        sine[0] += v * s[i];
      }
      break;
    }
#pragma GCC unroll 8
    for (std::size_t i = 0; i < run; ++i, x += stride) {
      Quad v;
      std::memcpy(&v, x, sizeof v);
      const Quad v2 = v * v;
      sum[i % 2] += v;
      square[i % 2] += v2;
      largest[i % 2] = v2 > largest[i % 2] ? v2 : largest[i % 2];
      cosine[i % 2] += v * c[i];
      sine[i % 2] += v * s[i];
    }
    const Quad turned0 = c0 * turn_c - s0 * turn_s;
    const Quad turned1 = c1 * turn_c - s1 * turn_s;
    s0 = c0 * turn_s + s0 * turn_c;
    s1 = c1 * turn_s + s1 * turn_c;
    c0 = turned0;
    c1 = turned1;
  }
  for (std::size_t lane = 0; lane < 4; ++lane) {
    out.sum[lane] = sum[0][lane] + sum[1][lane];
    out.square[lane] = square[0][lane] + square[1][lane];
    out.largest_square[lane] = std::max(largest[0][lane], largest[1][lane]);
    out.cosine[lane] = cosine[0][lane] + cosine[1][lane];
    out.sine[lane] = sine[0][lane] + sine[1][lane];
  }
}

}  // namespace

void sum_turn(const TurnFrames& frames, std::span<const double> orders, TurnSums& sums) {
  const std::size_t channels = padded_channels(frames.stride);
  sums.levels.resize(channels);
  sums.orders.resize(orders.size() * channels);
  for (std::size_t o = 0; o < orders.size(); ++o) {
    const double k = orders[o];
    const PhasorRun start = phasors_from(k * frames.first_angle_rad, k * frames.step_rad);
    for (std::size_t first = 0; first < channels; first += 4) {
      QuadSums quad{};
      sum_quad(frames.data + first, frames.count, frames.stride, start, quad);
      for (std::size_t lane = 0; lane < 4; ++lane) {
        if (o == 0) sums.levels[first + lane] = {quad.sum[lane], quad.square[lane], quad.largest_square[lane]};
        sums.orders[o * channels + first + lane] = {quad.cosine[lane], quad.sine[lane]};
      }
    }
  }
}

std::complex<double> sum_of_phasors(double m, double first_angle_rad, double step_rad, double count) {
  // e^{jm·first}·(sin(count·m·step/2)/sin(m·step/2))·e^{jm·step(count−1)/2}
  const double half = 0.5 * m * step_rad;
  const double denominator = std::sin(half);
  const bool whole = std::abs(denominator) < 1e-12;  // the phasor stands still from frame to frame
  const double ratio = whole ? count * std::cos(count * half) / std::cos(half) : std::sin(count * half) / denominator;
  return std::polar(1.0, m * first_angle_rad + (count - 1.0) * half) * ratio;
}

}  // namespace counterspot
