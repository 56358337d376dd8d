#pragma once

#include <array>
#include <optional>
#include <vector>

#include "counterspot/placement/fitting.hpp"
#include "placement/vector_index.hpp"

namespace counterspot {

inline constexpr int most_pieces_at_a_plane = 6;

/// One piece at one position of a plane.
struct Single {
  int piece = 0;
  int position = 0;
  Phasor unbalance_kg_m;
};

/// Several of them together.
struct Load {
  Phasor unbalance_kg_m;
  double weighed_kg = 0.0;
  int size = 0;
  std::array<int, most_pieces_at_a_plane> singles{};
};

/// Which loads are wanted.
struct Wanted {
  Phasor ideal_kg_m;
  double radius_kg_m = 0.0;
  double most_kg = 0.0;  ///< weighed
};

/// All that can be fitted at one plane within its rules and the counts of the stock.
class PlaneLoads {
 public:
  PlaneLoads(const FittingProblem& problem, int plane);

  const Single& single(int index) const { return singles_[static_cast<std::size_t>(index)]; }
  double lightest_kg() const { return lightest_kg_; }
  /// All loads of exactly `size` pieces that are as wanted. Stops early when `go_on()` says no.
  template <typename GoOn>
  std::vector<Load> within(const Wanted& wanted, int size, GoOn go_on) const;
  /// A load of `size` pieces near the ideal: the nearest one for up to two pieces, a good one beyond.
  std::optional<Load> nearest(const Phasor& ideal, int size) const;

 private:
  double weighed_kg(int index) const {
    return problem_->pieces[static_cast<std::size_t>(single(index).piece)].weighed_kg;
  }
  bool fits(const Load& load, int index) const;
  Load with(const Load& load, int index) const;
  int nearest_single(const Phasor& ideal, const Load& load) const;
  template <typename GoOn>
  void form(std::vector<Load>& list, const Load& load, const Wanted& wanted, int missing, int first, GoOn go_on) const;

  const FittingProblem* problem_;
  const PlaneSites* sites_;
  std::vector<Single> singles_;
  std::vector<Phasor> vectors_;
  VectorIndex index_;
  double longest_ = 0.0;
  double lightest_kg_ = 0.0;
};

template <typename GoOn>
std::vector<Load> PlaneLoads::within(const Wanted& wanted, int size, GoOn go_on) const {
  std::vector<Load> list;
  form(list, Load{}, wanted, size, 0, go_on);
  return list;
}

// Singles are taken in ascending order, so that every load is formed once.
template <typename GoOn>
void PlaneLoads::form(std::vector<Load>& list, const Load& load, const Wanted& wanted, int missing, int first,
                      GoOn go_on) const {
  if (load.weighed_kg + missing * lightest_kg_ > wanted.most_kg) return;
  if (missing == 0) {
    if (std::abs(load.unbalance_kg_m - wanted.ideal_kg_m) <= wanted.radius_kg_m) list.push_back(load);
    return;
  }
  if (missing == 1) {
    index_.near(wanted.ideal_kg_m - load.unbalance_kg_m, wanted.radius_kg_m, [&](int i) {
      if (i >= first && load.weighed_kg + weighed_kg(i) <= wanted.most_kg && fits(load, i))
        list.push_back(with(load, i));
    });
    return;
  }
  for (int i = first; i < static_cast<int>(singles_.size()) && go_on(); ++i) {
    const double left = std::abs(wanted.ideal_kg_m - load.unbalance_kg_m - vectors_[static_cast<std::size_t>(i)]);
    if (left <= wanted.radius_kg_m + (missing - 1) * longest_ && fits(load, i))
      form(list, with(load, i), wanted, missing - 1, i + 1, go_on);
  }
}

}  // namespace counterspot
