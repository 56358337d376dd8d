#include "tracking/extremes.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>

#include "recording/clones.hpp"
#include "tracking/quad.hpp"

namespace counterspot {
namespace {

/// Of every second four samples, so that no comparison waits for the one before it.
struct ExtremeQuads {
  Quad low;
  Quad high;

  [[gnu::always_inline]] void add(const double* x) {
    Quad v;
    load(x, v);
    low = v < low ? v : low;
    high = v > high ? v : high;
  }
};

COUNTERSPOT_CLONES
Extremes find_extremes(const double* x, std::size_t count) {
  const Quad first = Quad{} + x[0];
  ExtremeQuads even{first, first};
  ExtremeQuads odd{first, first};
  std::size_t n = 0;
  for (; n + 8 <= count; n += 8) {
    even.add(x + n);
    odd.add(x + n + 4);
  }
  Extremes found{x[0], x[0]};
  for (std::size_t lane = 0; lane < 4; ++lane) {
    found.low = std::min({found.low, even.low[lane], odd.low[lane]});
    found.high = std::max({found.high, even.high[lane], odd.high[lane]});
  }
  for (; n < count; ++n) {
    found.low = std::min(found.low, x[n]);
    found.high = std::max(found.high, x[n]);
  }
  return found;
}

COUNTERSPOT_CLONES
std::size_t find_above(const double* x, std::size_t count, double level) {
  std::int64_t above __attribute__((vector_size(32))) = {};
  std::size_t n = 0;
  for (; n + 4 <= count; n += 4) {
    Quad v;
    load(x + n, v);
    above -= v > level;  // true is −1
  }
  std::int64_t sum = above[0] + above[1] + above[2] + above[3];
  for (; n < count; ++n) sum += x[n] > level ? 1 : 0;
  return static_cast<std::size_t>(sum);
}

COUNTERSPOT_CLONES
double find_smallest_step(const double* x, std::size_t count) {
  Quad even = Quad{} + no_step;
  Quad odd = even;
  const auto lower = [](const double* at, Quad& least) __attribute__((always_inline)) {
    Quad before, here;
    load(at - 1, before);
    load(at, here);
    const Quad change = here - before;
    const Quad step = change > 0.0 ? change : -change;
    least = step > 0.0 && step < least ? step : least;
  };
  std::size_t n = 1;
  for (; n + 8 <= count; n += 8) {
    lower(x + n, even);
    lower(x + n + 4, odd);
  }
  double found = no_step;
  for (std::size_t lane = 0; lane < 4; ++lane) found = std::min({found, even[lane], odd[lane]});
  for (; n < count; ++n) {
    const double step = std::abs(x[n] - x[n - 1]);
    found = step > 0.0 && step < found ? step : found;
  }
  return found;
}

}  // namespace

double smallest_step(std::span<const double> samples) {
  return find_smallest_step(samples.data(), samples.size());
}

Extremes extremes_of(std::span<const double> samples) {
  return find_extremes(samples.data(), samples.size());
}

std::size_t count_above(std::span<const double> samples, double level) {
  return find_above(samples.data(), samples.size(), level);
}

}  // namespace counterspot
