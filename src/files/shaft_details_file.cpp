#include "counterspot/shaft_details.hpp"
#include "files/toml_section.hpp"

namespace counterspot {

namespace {

BeamSection read_section(TomlSection& section) {
  BeamSection part;
  part.begin_m = section.need_quantity("begin", Dimension::length, "begin = \"70 mm\"");
  part.end_m = section.need_quantity("end", Dimension::length, "end = \"800 mm\"");
  part.outside_diameter_m = section.need_size("outside_diameter", Dimension::length, "outside_diameter = \"76.2 mm\"");
  const auto wall = section.size("wall", Dimension::length);  // solid without one
  part.bore_m = wall ? part.outside_diameter_m - 2.0 * *wall : 0.0;
  part.material =
      section.located("material", [&] { return material_named(section.text("material").value_or("steel")); });
  part.stiffness_fraction = section.size("stiffness", Dimension::fraction).value_or(1.0);
  section.finish();
  return part;
}

BeamMass read_mass(TomlSection& section) {
  BeamMass mass;
  section.text("name");  // for the person who reads the file
  mass.position_m = section.need_quantity("position", Dimension::length, "position = \"0 mm\"");
  mass.mass_kg = section.need_size("mass", Dimension::mass, "mass = \"1.2 kg\"");
  section.finish();
  return mass;
}

BeamSupport read_support(TomlSection& section) {
  BeamSupport support;
  support.position_m = section.need_quantity("position", Dimension::length, "position = \"0 mm\"");
  support.stiffness_N_m = section.size("stiffness", Dimension::stiffness);
  support.clamped = section.yes_or_no("clamped").value_or(false);
  section.finish();
  return support;
}

Beam read_beam(TomlSection& file, const Shaft& shaft, bool& detailed) {
  Beam stated;
  for (TomlSection& section : file.sections("section")) stated.sections.push_back(read_section(section));
  for (TomlSection& section : file.sections("mass")) stated.masses.push_back(read_mass(section));
  for (TomlSection& section : file.sections("support")) stated.supports.push_back(read_support(section));
  detailed = !stated.sections.empty();
  Beam beam = detailed ? Beam{} : beam_of(shaft);
  if (detailed) beam.sections = stated.sections;
  if (detailed || !stated.masses.empty()) beam.masses = stated.masses;
  if (!stated.supports.empty()) beam.supports = stated.supports;
  if (beam.supports.empty() && shaft.supports) beam.supports = {{shaft.supports->a_m, {}}, {shaft.supports->b_m, {}}};
  return beam;
}

DialStation read_station(TomlSection& section) {
  DialStation station;
  station.position_m = section.need_quantity("position", Dimension::length, "position = \"700 mm\"");
  for (TomlSection& reading : section.sections("readings")) {
    station.readings.push_back({reading.need_quantity("angle", Dimension::angle, "angle = \"90 deg\""),
                                reading.need_quantity("dial", Dimension::length, "dial = \"0.12 mm\"")});
    reading.finish();
  }
  section.finish();
  return station;
}

}  // namespace

ShaftDetails read_shaft_details(const std::filesystem::path& path, const Shaft& shaft) {
  const toml::table table = parse_toml(path);
  TomlSection file(table, path.string(), "");
  ShaftDetails details;
  details.beam = read_beam(file, shaft, details.detailed);
  if (auto section = file.section("straightness")) {
    if (const auto limit = section->size("limit", Dimension::length)) details.straightness.indicator_limit_m = *limit;
    for (TomlSection& station : section->sections("station")) details.stations.push_back(read_station(station));
    section->finish();
  }
  return details;
}

}  // namespace counterspot
