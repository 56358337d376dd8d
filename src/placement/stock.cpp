#include "counterspot/placement/stock.hpp"

#include <algorithm>
#include <cmath>

namespace counterspot {

namespace {

constexpr double drill_point_rad = radians(118.0);
constexpr double on_the_edge_rad = 1e-9;

Piece piece_of(const StockKind& kind, int index, double mass_kg, double length_m) {
  Piece piece{index, kind.way, 0.0, mass_kg, length_m, kind.radius_offset_m};
  switch (kind.way) {
    case Way::weld: piece.acting_kg = mass_kg * (1.0 + kind.bead.fraction) + kind.bead.mass_kg; break;
    case Way::clamp:
      piece.acting_kg = mass_kg;
      piece.weighed_kg = mass_kg + kind.band_kg;
      break;
    case Way::grind:
    case Way::drill: piece.acting_kg = -mass_kg; break;
  }
  return piece;
}

}  // namespace

bool ForbiddenArc::contains(double angle_rad) const {
  const double width = to_rad - from_rad >= turn_rad ? turn_rad : wrap_positive(to_rad - from_rad);
  const double at = wrap_positive(angle_rad - from_rad);
  return at <= width + on_the_edge_rad || at >= turn_rad - on_the_edge_rad;
}

const PlaneRules& Stock::rules_of(const std::string& plane) const {
  static const PlaneRules defaults;
  const auto found = rules.find(plane);
  return found == rules.end() ? defaults : found->second;
}

double drill_tip_kg(double diameter_m, double density_kg_m3) {
  const double height_m = 0.5 * diameter_m / std::tan(0.5 * drill_point_rad);
  return density_kg_m3 * pi / 12.0 * diameter_m * diameter_m * height_m;
}

std::vector<Piece> pieces_of(const Stock& stock) {
  std::vector<Piece> pieces;
  for (std::size_t k = 0; k < stock.kinds.size(); ++k) {
    const StockKind& kind = stock.kinds[k];
    if (kind.count && *kind.count <= 0) continue;
    const auto index = static_cast<int>(k);
    for (double mass : kind.masses_kg) pieces.push_back(piece_of(kind, index, mass, 0.0));
    for (double length : kind.lengths_m)
      pieces.push_back(piece_of(kind, index, kind.linear_mass_kg_m * length + kind.tip_kg, length));
  }
  return pieces;
}

std::vector<double> open_positions(const PlaneRules& rules, double step_rad) {
  if (rules.closed) return {};
  std::vector<double> all;
  for (double angle : rules.positions_rad) all.push_back(wrap_positive(angle));
  if (all.empty()) {
    const auto count = static_cast<int>(std::lround(turn_rad / step_rad));
    for (int i = 0; i < count; ++i) all.push_back(turn_rad * i / count);
  }
  std::sort(all.begin(), all.end());
  auto shut = [&](double angle) {
    return std::any_of(rules.forbidden.begin(), rules.forbidden.end(),
                       [angle](const ForbiddenArc& arc) { return arc.contains(angle); });
  };
  std::erase_if(all, shut);
  return all;
}

}  // namespace counterspot
