#include <algorithm>
#include <cmath>

#include "counterspot/placement/fitting.hpp"

namespace counterspot {

namespace {

double apart(double a_rad, double b_rad) {
  return std::abs(wrap_signed(a_rad - b_rad));
}

}  // namespace

double room_kg(const Plane& plane, int index, const std::vector<FittedWeight>& on_shaft) {
  double room = plane.at_most_kg.value_or(std::numeric_limits<double>::infinity());
  for (const FittedWeight& weight : on_shaft)
    if (weight.plane == index && weight.mass_kg > 0.0) room -= weight.mass_kg;
  return std::max(0.0, room);
}

std::vector<double> room_kg_m(const Shaft& shaft, const std::vector<FittedWeight>& on_shaft) {
  std::vector<double> room;
  for (const Plane& plane : shaft.planes)
    room.push_back(room_kg(plane, static_cast<int>(room.size()), on_shaft) * plane.radius_m);
  return room;
}

std::vector<PlaneSites> sites_of(const Shaft& shaft, const Stock& stock, const std::vector<FittedWeight>& on_shaft,
                                 double step_rad) {
  std::vector<PlaneSites> sites;
  for (std::size_t p = 0; p < shaft.planes.size(); ++p) {
    const Plane& plane = shaft.planes[p];
    const PlaneRules& rules = stock.rules_of(plane.name);
    const double surface_m = shaft.tube ? 0.5 * shaft.tube->outside_diameter_m : plane.radius_m;
    PlaneSites site{plane.name,
                    plane.radius_m,
                    open_positions(rules, step_rad),
                    rules.gap_m() / surface_m,
                    rules.closed ? 0 : rules.most_pieces,
                    rules.most_mass_kg,
                    room_kg(plane, static_cast<int>(p), on_shaft)};
    for (const FittedWeight& weight : on_shaft) {
      if (weight.plane != static_cast<int>(p) || weight.mass_kg <= 0.0) continue;
      site.most_pieces = std::max(0, site.most_pieces - 1);
      site.most_mass_kg = std::max(0.0, site.most_mass_kg - weight.mass_kg);
      const double gap = std::max(site.smallest_gap_rad - 1e-9, 1e-6);
      std::erase_if(site.positions_rad, [&](double angle) { return apart(angle, weight.angle_rad) < gap; });
    }
    sites.push_back(std::move(site));
  }
  return sites;
}

}  // namespace counterspot
