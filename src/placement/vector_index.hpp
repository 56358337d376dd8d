#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

#include "counterspot/units/angle.hpp"

namespace counterspot {

/// Points of the plane of vectors, in square cells, so that those near a place are found without a look at all of them.
class VectorIndex {
 public:
  explicit VectorIndex(const std::vector<Phasor>& points) : points_(points) {
    for (const Phasor& p : points_) reach_ = std::max({reach_, std::abs(p.real()), std::abs(p.imag())});
    side_ = std::clamp(static_cast<int>(std::sqrt(static_cast<double>(points_.size()))), 1, 256);
    cell_ = 2.0 * reach_ * (1.0 + 1e-12) / side_;
    starts_.assign(static_cast<std::size_t>(side_ * side_) + 1, 0);
    for (const Phasor& p : points_) ++starts_[cell_of(p) + 1];
    for (std::size_t c = 1; c < starts_.size(); ++c) starts_[c] += starts_[c - 1];
    order_.resize(points_.size());
    std::vector<std::size_t> next(starts_.begin(), starts_.end() - 1);
    for (std::size_t i = 0; i < points_.size(); ++i) order_[next[cell_of(points_[i])]++] = static_cast<int>(i);
  }

  /// Calls found(index) for every point within `radius` of `place`; found may make `radius` smaller.
  template <typename Found>
  void near(const Phasor& place, const double& radius, Found found) const {
    if (points_.empty()) return;
    const int left = line_of(place.real() - radius);
    const int right = line_of(place.real() + radius);
    const int low = line_of(place.imag() - radius);
    const int high = line_of(place.imag() + radius);
    for (int y = low; y <= high; ++y) {
      const std::size_t begin = starts_[static_cast<std::size_t>(y * side_ + left)];
      const std::size_t end = starts_[static_cast<std::size_t>(y * side_ + right) + 1];
      for (std::size_t i = begin; i < end; ++i)
        if (std::norm(points_[static_cast<std::size_t>(order_[i])] - place) <= radius * radius) found(order_[i]);
    }
  }

 private:
  int line_of(double x) const {
    if (!(cell_ > 0.0)) return 0;
    return static_cast<int>(std::clamp((x + reach_) / cell_, 0.0, side_ - 1.0));
  }
  std::size_t cell_of(const Phasor& p) const {
    return static_cast<std::size_t>(line_of(p.imag()) * side_ + line_of(p.real()));
  }

  std::vector<Phasor> points_;
  double reach_ = 0.0;
  double cell_ = 0.0;
  int side_ = 1;
  std::vector<std::size_t> starts_;
  std::vector<int> order_;
};

}  // namespace counterspot
