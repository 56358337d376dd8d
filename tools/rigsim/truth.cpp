#include "rigsim/truth.hpp"

#include <cmath>

namespace rigsim {

double ShaftTruth::mass_kg() const {
  double sum = tube_kg_m * (tube_end_m - tube_begin_m);
  for (const EndMass& end : ends) sum += end.mass_kg;
  return sum;
}

double ShaftTruth::center_of_mass_m() const {
  double moment = tube_kg_m * (tube_end_m - tube_begin_m) * 0.5 * (tube_begin_m + tube_end_m);
  for (const EndMass& end : ends) moment += end.mass_kg * end.position_m;
  return moment / mass_kg();
}

void add_bow(ShaftTruth& shaft, double middle_m, double direction_rad) {
  constexpr int count = 40;
  const double length = (shaft.tube_end_m - shaft.tube_begin_m) / count;
  for (int i = 0; i < count; ++i) {
    double at = shaft.tube_begin_m + (i + 0.5) * length;
    double fraction = (at - shaft.support_a_m) / (shaft.support_b_m - shaft.support_a_m);
    double offset = middle_m * std::sin(counterspot::pi * fraction);
    shaft.slices.push_back({at, shaft.tube_kg_m * length * offset * std::polar(1.0, direction_rad)});
  }
}

}  // namespace rigsim
