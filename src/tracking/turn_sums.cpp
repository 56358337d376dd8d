#include "tracking/turn_sums.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "recording/clones.hpp"
#include "tracking/quad.hpp"

namespace counterspot {
namespace {

constexpr std::size_t run = 32;  // frames whose sums are turned into place together

/// e^{jki·step} for the frames of a run, and what turns the runs into place. In a table the processor loads and spreads
/// each in one step; kept in registers they had to be shuffled, a quarter of the time of the sums.
struct RunPhasors {
  std::array<double, run> cosine;
  std::array<double, run> sine;
  std::complex<double> first;     ///< e^{jkθ} of the first frame
  std::complex<double> from_run;  ///< e^{jk·run·step}, from one run to the next
};

struct QuadSums {
  double sum[4];
  double square[4];
  double largest_square[4];
  double cosine[4];
  double sine[4];
};

/// By doubling: e^{j(m+i)} = e^{jm}·e^{ji} for m = 1, 2, 4, …, so that rounding grows with the logarithm of the length.
RunPhasors phasors_from(double angle_rad, double step_rad) {
  RunPhasors phasors{};
  phasors.cosine[0] = 1.0;
  std::complex<double> turn = std::polar(1.0, step_rad);
  for (std::size_t m = 1; m < run; m *= 2, turn *= turn) {
    for (std::size_t i = 0; i < m; ++i) {
      phasors.cosine[m + i] = phasors.cosine[i] * turn.real() - phasors.sine[i] * turn.imag();
      phasors.sine[m + i] = phasors.cosine[i] * turn.imag() + phasors.sine[i] * turn.real();
    }
  }
  phasors.first = std::polar(1.0, angle_rad);
  phasors.from_run = turn;
  return phasors;
}

/// Sums over every second frame, four channels at once, so that no addition waits for the one before it.
struct Strand {
  Quad sum = {};
  Quad square = {};
  Quad largest_square = {};
  Quad cosine = {};  // of this run: Σ x cos(ki·step)
  Quad sine = {};

  template <typename Sample>
  [[gnu::always_inline]] void add(const Sample* x, double c, double s) {
    Quad v;
    load(x, v);
    const Quad v2 = v * v;
    sum += v;
    square += v2;
    largest_square = v2 > largest_square ? v2 : largest_square;
    cosine += v * c;
    sine += v * s;
  }
};

/// Four neighbouring channels of every frame. Σ x e^{jki·step} of each run is turned to where the run begins.
template <typename Sample>
[[gnu::always_inline]] inline void sum_four(const Sample* x, std::size_t count, std::size_t stride,
                                            const RunPhasors& phasors, QuadSums& out) {
  Strand even, odd;
  Quad cosine = {}, sine = {};
  double begin_c = phasors.first.real();
  double begin_s = phasors.first.imag();
  for (std::size_t left = count; left > 0;) {
    const std::size_t here = std::min(left, run);
    even.cosine = even.sine = odd.cosine = odd.sine = Quad{};
    std::size_t i = 0;
    for (; i + 2 <= here; i += 2, x += 2 * stride) {
      even.add(x, phasors.cosine[i], phasors.sine[i]);
      odd.add(x + stride, phasors.cosine[i + 1], phasors.sine[i + 1]);
    }
    if (i < here) even.add(x, phasors.cosine[i], phasors.sine[i]);
    const Quad c = even.cosine + odd.cosine;
    const Quad s = even.sine + odd.sine;
    cosine += c * begin_c - s * begin_s;
    sine += c * begin_s + s * begin_c;
    const double turned = begin_c * phasors.from_run.real() - begin_s * phasors.from_run.imag();
    begin_s = begin_c * phasors.from_run.imag() + begin_s * phasors.from_run.real();
    begin_c = turned;
    left -= here;
  }
  for (std::size_t lane = 0; lane < 4; ++lane) {
    out.sum[lane] = even.sum[lane] + odd.sum[lane];
    out.square[lane] = even.square[lane] + odd.square[lane];
    out.largest_square[lane] = std::max(even.largest_square[lane], odd.largest_square[lane]);
    out.cosine[lane] = cosine[lane];
    out.sine[lane] = sine[lane];
  }
}

COUNTERSPOT_CLONES
void sum_quad(const float* x, std::size_t count, std::size_t stride, const RunPhasors& phasors, QuadSums& out) {
  sum_four(x, count, stride, phasors, out);
}
COUNTERSPOT_CLONES
void sum_quad(const double* x, std::size_t count, std::size_t stride, const RunPhasors& phasors, QuadSums& out) {
  sum_four(x, count, stride, phasors, out);
}

}  // namespace

void sum_turn(const TurnFrames& frames, std::span<const double> orders, TurnSums& sums) {
  const std::size_t channels = padded_channels(frames.stride);
  sums.levels.resize(channels);
  sums.orders.resize(orders.size() * channels);
  for (std::size_t o = 0; o < orders.size(); ++o) {
    const double k = orders[o];
    const RunPhasors phasors = phasors_from(k * frames.first_angle_rad, k * frames.step_rad);
    for (std::size_t first = 0; first < channels; first += 4) {
      QuadSums quad{};
      frames.data.visit([&](const auto* x) { sum_quad(x + first, frames.count, frames.stride, phasors, quad); });
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
