#include "tach/edge_finder.hpp"

namespace counterspot {

EdgeFinder::EdgeFinder(double level, double hysteresis, Edge edge, std::int64_t first_frame)
    : sign_(edge == Edge::rising ? 1.0 : -1.0),
      level_(sign_ * level),
      upper_(level_ + 0.5 * hysteresis),
      lower_(level_ - 0.5 * hysteresis),
      previous_(level_),
      frame_(static_cast<double>(first_frame)) {}

void EdgeFinder::push(const double* samples, std::size_t count, std::size_t stride, std::vector<Pulse>& pulses) {
  double previous = previous_;  // here and not in the object: the loops run over every sample of a recording
  const auto crossing = [&](std::size_t n, double x) {
    return frame_ + static_cast<double>(n) - (x - level_) / (x - previous);
  };
  std::size_t n = 0;
  while (n < count) {
    if (state_ == State::outside) {
      for (; n < count; ++n) {
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
      for (; n < count; ++n) {
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

void EdgeFinder::finish(std::vector<Pulse>& pulses) {
  if (state_ == State::inside) pulses.push_back({begin_, 0.0});
  state_ = State::unknown;
}

}  // namespace counterspot
