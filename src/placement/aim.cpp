#include <algorithm>
#include <cmath>

#include "counterspot/placement/fitting.hpp"

namespace counterspot {

namespace {

std::optional<double> limit_named(const std::vector<PlaneLimit>& limits, const std::string& name) {
  for (const PlaneLimit& limit : limits)
    if (limit.name == name) return limit.limit_kg_m;
  return std::nullopt;
}

AimRow row_of(HeldPlace place, const std::vector<Phasor>& residual, std::vector<Phasor> effect, double limit) {
  Phasor present = 0.0;
  for (std::size_t p = 0; p < residual.size(); ++p) present += effect[p] * residual[p];
  return {std::move(place), present, std::move(effect), limit};
}

}  // namespace

Aim aim_at_unbalance(const Shaft& shaft, const std::vector<Phasor>& residual_kg_m,
                     const std::vector<PlaneLimit>& planes, const std::vector<SupportLimit>& supports) {
  Aim aim;
  const std::size_t count = shaft.planes.size();
  for (std::size_t p = 0; p < count; ++p) {
    const auto limit = limit_named(planes, shaft.planes[p].name);
    if (!limit) continue;
    std::vector<Phasor> effect(count, 0.0);
    effect[p] = 1.0;
    aim.push_back(row_of({shaft.planes[p].name}, residual_kg_m, std::move(effect), *limit));
  }
  if (!shaft.supports) return aim;
  for (const SupportLimit& support : supports) {
    std::vector<Phasor> effect;
    for (const Plane& plane : shaft.planes)
      effect.emplace_back(lever_to_support(*shaft.supports, support.support, plane.position_m));
    aim.push_back(row_of(at_support(support.support), residual_kg_m, std::move(effect), support.limit_kg_m));
  }
  return aim;
}

double worst_ratio(const Aim& aim, const std::vector<Phasor>& fitted_kg_m) {
  double worst = 0.0;
  for (const AimRow& row : aim) {
    Phasor value = row.present;
    for (std::size_t p = 0; p < row.effect.size(); ++p) value += row.effect[p] * fitted_kg_m[p];
    worst = std::max(worst, std::abs(value) / row.limit);
  }
  return worst;
}

}  // namespace counterspot
