#include <algorithm>

#include "counterspot/shaft/beam.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

BeamSection tube_section(const Tube& tube, double begin_m, double end_m, bool weightless) {
  BeamSection section{begin_m, end_m, tube.outside_diameter_m, tube.outside_diameter_m - 2.0 * tube.wall_m,
                      material_named(tube.material)};
  if (weightless) section.material.density_kg_m3 *= 1e-6;  // the masses at the tube's ends stand for the yokes
  return section;
}

void add_tube(const Shaft& shaft, Beam& beam) {
  const Tube& tube = *shaft.tube;
  const auto [left, right] = std::minmax(shaft.supports->a_m, shaft.supports->b_m);
  const double begin = 0.5 * (left + right) - 0.5 * tube.length_m;
  const double end = begin + tube.length_m;
  if (left < begin - 1e-6) beam.sections.push_back(tube_section(tube, left, begin, true));
  beam.sections.push_back(tube_section(tube, begin, end, false));
  if (right > end + 1e-6) beam.sections.push_back(tube_section(tube, end, right, true));
  const double beyond_kg = shaft.mass_kg.value_or(0.0) - tube_mass_kg(tube);
  if (beyond_kg > 0.0) beam.masses = {{begin, 0.5 * beyond_kg}, {end, 0.5 * beyond_kg}};
}

std::vector<BeamSupport> bearings_at(const Supports& supports) {
  const auto [left, right] = std::minmax(supports.a_m, supports.b_m);
  std::vector<BeamSupport> list = {{left, std::nullopt}, {right, std::nullopt}};
  if (supports.c_m) list.push_back({*supports.c_m, std::nullopt});
  return list;
}

}  // namespace

Beam beam_of(const Shaft& shaft) {
  if (!shaft.tube && shaft.sections.empty())
    throw Error(Trouble::request, "no_tube", "shaft '" + shaft.id + "' has no tube",
                "add a [tube] with its dimensions");
  if (!shaft.supports && (shaft.bearings.empty() || shaft.sections.empty()))
    throw Error(Trouble::request, "no_supports", "shaft '" + shaft.id + "' has no supports",
                "add [supports] with A and B");
  Beam beam;
  beam.sections = shaft.sections;
  if (shaft.sections.empty()) add_tube(shaft, beam);
  if (!shaft.sections.empty() || !shaft.masses.empty()) beam.masses = shaft.masses;
  beam.supports = shaft.bearings.empty() ? bearings_at(*shaft.supports) : shaft.bearings;
  return beam;
}

std::optional<BeamSummary> bending_of(const Shaft& shaft, const BeamOptions& options) {
  const bool held = shaft.supports || !shaft.bearings.empty();
  if (!held || (shaft.sections.empty() && !(shaft.tube && shaft.supports))) return std::nullopt;
  return critical_speeds(beam_of(shaft), options);
}

std::optional<double> first_critical_rad_s(const BeamSummary& beam) {
  for (const BeamMode& mode : beam.modes)
    if (mode.speed_rad_s > 0.0) return mode.speed_rad_s;
  return std::nullopt;
}

std::optional<double> safe_speed_rad_s(const Shaft& shaft) {
  BeamOptions options;
  options.with_discretisation = false;
  const auto beam = bending_of(shaft, options);
  const auto critical = beam ? first_critical_rad_s(*beam) : std::nullopt;
  return critical ? std::optional(largest_speed_fraction * *critical) : std::nullopt;
}

}  // namespace counterspot
