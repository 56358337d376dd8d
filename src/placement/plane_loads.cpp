#include "placement/plane_loads.hpp"

#include <cmath>

namespace counterspot {

namespace {

constexpr double same_position_rad = 1e-6;

std::vector<Single> singles_of(const FittingProblem& problem, const PlaneSites& sites) {
  std::vector<Single> singles;
  for (std::size_t k = 0; k < problem.pieces.size(); ++k) {
    const Piece& piece = problem.pieces[k];
    if (piece.weighed_kg > sites.most_mass_kg || std::abs(piece.acting_kg) > sites.room_kg) continue;
    for (std::size_t i = 0; i < sites.positions_rad.size(); ++i) {
      singles.push_back(
          {static_cast<int>(k), static_cast<int>(i),
           piece.acting_kg * (sites.radius_m + piece.radius_offset_m) * phasor_at(1.0, sites.positions_rad[i])});
    }
  }
  return singles;
}

std::vector<Phasor> vectors_of(const std::vector<Single>& singles) {
  std::vector<Phasor> vectors;
  for (const Single& single : singles) vectors.push_back(single.unbalance_kg_m);
  return vectors;
}

}  // namespace

PlaneLoads::PlaneLoads(const FittingProblem& problem, int plane)
    : problem_(&problem),
      sites_(&problem.planes[static_cast<std::size_t>(plane)]),
      singles_(singles_of(problem, *sites_)),
      vectors_(vectors_of(singles_)),
      index_(vectors_) {
  for (const Phasor& v : vectors_) longest_ = std::max(longest_, std::abs(v));
  for (std::size_t i = 0; i < singles_.size(); ++i)
    lightest_kg_ = i == 0 ? weighed_kg(0) : std::min(lightest_kg_, weighed_kg(static_cast<int>(i)));
}

Load PlaneLoads::with(const Load& load, int index) const {
  Load more = load;
  const Single& added = single(index);
  more.unbalance_kg_m += added.unbalance_kg_m;
  more.weighed_kg += problem_->pieces[static_cast<std::size_t>(added.piece)].weighed_kg;
  more.singles[static_cast<std::size_t>(more.size++)] = index;
  return more;
}

bool PlaneLoads::fits(const Load& load, int index) const {
  const Single& added = single(index);
  const Piece& piece = problem_->pieces[static_cast<std::size_t>(added.piece)];
  if (load.weighed_kg + piece.weighed_kg > sites_->most_mass_kg) return false;
  const double gap = std::max(sites_->smallest_gap_rad - 1e-9, same_position_rad);
  const double angle = sites_->positions_rad[static_cast<std::size_t>(added.position)];
  int of_kind = 1;
  double acting_kg = std::abs(piece.acting_kg);
  for (int i = 0; i < load.size; ++i) {
    const Single& there = single(load.singles[static_cast<std::size_t>(i)]);
    if (std::abs(wrap_signed(angle - sites_->positions_rad[static_cast<std::size_t>(there.position)])) < gap)
      return false;
    const Piece& other = problem_->pieces[static_cast<std::size_t>(there.piece)];
    if (other.kind == piece.kind) ++of_kind;
    acting_kg += std::abs(other.acting_kg);
  }
  if (acting_kg > sites_->room_kg) return false;
  const auto& count = problem_->counts[static_cast<std::size_t>(piece.kind)];
  return !count || of_kind <= *count;
}

int PlaneLoads::nearest_single(const Phasor& ideal, const Load& load) const {
  int nearest = -1;
  double radius = std::abs(ideal) + longest_ + 1.0;
  index_.near(ideal, radius, [&](int i) {
    if (!fits(load, i)) return;
    radius = std::abs(vectors_[static_cast<std::size_t>(i)] - ideal);
    nearest = i;
  });
  return nearest;
}

std::optional<Load> PlaneLoads::nearest(const Phasor& ideal, int size) const {
  Load load;
  while (size - load.size > 2) {
    const int i = nearest_single(ideal - load.unbalance_kg_m, load);
    if (i < 0) return std::nullopt;
    load = with(load, i);
  }
  if (load.size == size) return load;
  double radius = std::abs(ideal - load.unbalance_kg_m) + 2.0 * longest_ + 1.0;
  std::optional<Load> best;
  auto complete = [&](const Load& partial) {
    index_.near(ideal - partial.unbalance_kg_m, radius, [&](int i) {
      if (!fits(partial, i)) return;
      best = with(partial, i);
      radius = std::abs(best->unbalance_kg_m - ideal);
    });
  };
  if (size - load.size == 1) {
    complete(load);
  } else {
    for (int i = 0; i < static_cast<int>(singles_.size()); ++i)
      if (fits(load, i)) complete(with(load, i));
  }
  return best;
}

}  // namespace counterspot
