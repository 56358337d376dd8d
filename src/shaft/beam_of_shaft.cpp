#include <algorithm>

#include "counterspot/beam.hpp"
#include "counterspot/error.hpp"

namespace counterspot {

namespace {

BeamSection tube_section(const Tube& tube, double begin_m, double end_m, bool weightless) {
  BeamSection section{begin_m, end_m, tube.outside_diameter_m, tube.outside_diameter_m - 2.0 * tube.wall_m,
                      material_named(tube.material)};
  if (weightless) section.material.density_kg_m3 *= 1e-6;  // the masses at the tube's ends stand for the yokes
  return section;
}

}  // namespace

Beam beam_of(const Shaft& shaft) {
  if (!shaft.tube)
    throw Error(Trouble::request, "no_tube", "shaft '" + shaft.id + "' has no tube",
                "add a [tube] with its dimensions");
  if (!shaft.supports)
    throw Error(Trouble::request, "no_supports", "shaft '" + shaft.id + "' has no supports",
                "add [supports] with A and B");
  const Tube& tube = *shaft.tube;
  const auto [left, right] = std::minmax(shaft.supports->a_m, shaft.supports->b_m);
  const double begin = 0.5 * (left + right) - 0.5 * tube.length_m;
  const double end = begin + tube.length_m;
  Beam beam;
  if (left < begin - 1e-6) beam.sections.push_back(tube_section(tube, left, begin, true));
  beam.sections.push_back(tube_section(tube, begin, end, false));
  if (right > end + 1e-6) beam.sections.push_back(tube_section(tube, end, right, true));
  const double beyond_kg = shaft.mass_kg.value_or(0.0) - tube_mass_kg(tube);
  if (beyond_kg > 0.0) beam.masses = {{begin, 0.5 * beyond_kg}, {end, 0.5 * beyond_kg}};
  beam.supports = {{left, std::nullopt}, {right, std::nullopt}};
  if (shaft.supports->c_m) beam.supports.push_back({*shaft.supports->c_m, std::nullopt});
  return beam;
}

}  // namespace counterspot
