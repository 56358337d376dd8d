#include "tach/edge_finder.hpp"

#include <algorithm>

namespace counterspot {
namespace {

constexpr std::size_t at_once = 8;

/// How many of the next samples, in whole runs, lie on one side of the level. Nearly all of a turn does.
template <bool below, typename Sample>
std::size_t quiet(const Sample* samples, std::size_t count, std::size_t stride, double level) {
  const auto at = [&](std::size_t i) { return samples[i * stride]; };
  const auto outer = [](Sample a, Sample b) { return below ? std::max(a, b) : std::min(a, b); };
  std::size_t n = 0;
  for (; n + at_once <= count; n += at_once, samples += at_once * stride) {
    const Sample first = outer(outer(at(0), at(1)), outer(at(2), at(3)));
    const Sample second = outer(outer(at(4), at(5)), outer(at(6), at(7)));
    const auto outermost = static_cast<double>(outer(first, second));
    if (!(below ? outermost < level : outermost > level)) break;
  }
  return n;
}

}  // namespace

EdgeFinder::EdgeFinder(double level, double hysteresis, Edge edge, std::int64_t first_frame)
    : sign_(edge == Edge::rising ? 1.0 : -1.0),
      level_(sign_ * level),
      upper_(level_ + 0.5 * hysteresis),
      lower_(level_ - 0.5 * hysteresis),
      previous_(level_),
      frame_(static_cast<double>(first_frame)) {}

template <typename Sample>
void EdgeFinder::push(const Sample* samples, std::size_t count, std::size_t stride, std::vector<Pulse>& pulses) {
  double previous = previous_;  // here and not in the object: the loops run over every sample of a recording
  const auto crossing = [&](std::size_t n, double x) {
    return frame_ + static_cast<double>(n) - (x - level_) / (x - previous);
  };
  std::size_t n = 0;
  while (n < count) {
    const bool below = (state_ == State::outside) == (sign_ > 0.0);
    const std::size_t passed =
        (below ? quiet<true, Sample> : quiet<false, Sample>)(samples + n * stride, count - n, stride, sign_ * level_);
    if (passed > 0) previous = sign_ * samples[(n + passed - 1) * stride];
    n += passed;
    const std::size_t end = std::min(count, n + at_once);  // then there may be quiet again
    if (state_ == State::outside) {
      for (; n < end; ++n) {
        const double x = sign_ * samples[n * stride];
        if (x > level_) {
          if (previous <= level_) begin_ = crossing(n, x);
          if (x > upper_) {
            state_ = State::inside;
            previous = x;
            ++n;
            break;
          }
        }
        previous = x;
      }
    } else {
      for (; n < end; ++n) {
        const double x = sign_ * samples[n * stride];
        if (x <= level_) {
          if (previous > level_) end_ = crossing(n, x);
          if (x < lower_ || (x <= lower_ && lower_ == level_)) {
            if (state_ == State::inside) pulses.push_back({begin_, end_ - begin_});
            state_ = State::outside;
            previous = x;
            ++n;
            break;
          }
        }
        previous = x;
      }
    }
  }
  previous_ = previous;
  frame_ += static_cast<double>(count);
}

template void EdgeFinder::push(const float*, std::size_t, std::size_t, std::vector<Pulse>&);
template void EdgeFinder::push(const double*, std::size_t, std::size_t, std::vector<Pulse>&);

void EdgeFinder::finish(std::vector<Pulse>& pulses) {
  if (state_ == State::inside) pulses.push_back({begin_, 0.0});
  state_ = State::unknown;
}

}  // namespace counterspot
