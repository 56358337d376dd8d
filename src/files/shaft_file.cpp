#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "counterspot/files/files.hpp"
#include "counterspot/shaft/beam.hpp"
#include "counterspot/tolerance/tolerance.hpp"
#include "files/toml_section.hpp"
#include "files/work_order_section.hpp"

namespace counterspot {

namespace {

Tube read_tube(TomlSection section) {
  Tube tube;
  tube.outside_diameter_m = section.need_quantity("outside_diameter");
  tube.wall_m = section.need_quantity("wall");
  tube.length_m = section.need_quantity("length");
  tube.material = section.need_text("material");
  if (2.0 * tube.wall_m > tube.outside_diameter_m) {
    throw section.bad_value("wall", "the wall is thicker than half the tube",
                            "measure wall and outside diameter again");
  }
  section.finish();
  return tube;
}

Supports read_supports(TomlSection section) {
  Supports supports;
  supports.a_m = section.need_quantity("A");
  supports.b_m = section.need_quantity("B");
  supports.center_of_mass_m = section.quantity("center_of_mass");
  supports.c_m = section.quantity("C");
  if (supports.a_m == supports.b_m)
    throw section.bad_value("B", "the supports A and B are at the same place", "measure both from one origin");
  if (supports.c_m && !((*supports.c_m - supports.a_m) * (supports.b_m - *supports.c_m) > 0.0))
    throw section.bad_value("C", "the centre support does not lie between A and B", "measure all from one origin");
  section.finish();
  return supports;
}

Joints read_joints(TomlSection section) {
  Joints joints;
  joints.angle_a_rad = section.need_quantity("angle_A");
  joints.angle_b_rad = section.need_quantity("angle_B");
  joints.yoke_phase_rad = section.need_quantity("yoke_phase");
  section.finish();
  return joints;
}

BeamSection read_section(TomlSection& section) {
  BeamSection part;
  part.begin_m = section.need_quantity("begin");
  part.end_m = section.need_quantity("end");
  part.outside_diameter_m = section.need_quantity("outside_diameter");
  const auto wall = section.quantity("wall");  // solid without one
  part.bore_m = wall ? part.outside_diameter_m - 2.0 * *wall : 0.0;
  part.material = section.located("material", [&] { return material_named(section.need_text("material")); });
  part.stiffness_fraction = section.need_quantity("stiffness");
  section.finish();
  return part;
}

BeamMass read_mass(TomlSection& section) {
  BeamMass mass;
  section.text("name");  // for the person who reads the file
  mass.position_m = section.need_quantity("position");
  mass.mass_kg = section.need_quantity("mass");
  section.finish();
  return mass;
}

BeamSupport read_support(TomlSection& section) {
  BeamSupport support;
  support.position_m = section.need_quantity("position");
  support.stiffness_N_m = section.quantity("stiffness");
  support.clamped = section.need_yes_or_no("clamped");
  section.finish();
  return support;
}

DialStation read_station(TomlSection& section) {
  DialStation station;
  station.position_m = section.need_quantity("position");
  for (TomlSection& reading : section.sections("readings")) {
    station.readings.push_back({reading.need_quantity("angle"), reading.need_quantity("dial")});
    reading.finish();
  }
  section.finish();
  return station;
}

void read_straightness(TomlSection section, Shaft& shaft) {
  shaft.indicator_limit_m = section.quantity("limit");
  for (TomlSection& station : section.sections("station")) shaft.dial_stations.push_back(read_station(station));
  section.finish();
}

std::vector<Plane> read_planes(TomlSection& file) {
  std::vector<Plane> planes;
  for (TomlSection& section : file.sections("plane")) {
    Plane plane;
    plane.name = section.need_text("name");
    plane.position_m = section.need_quantity("position");
    plane.radius_m = section.need_quantity("radius");
    plane.at_most_kg = section.quantity("at_most");
    section.finish();
    auto same = [&](const Plane& other) { return other.name == plane.name; };
    if (std::any_of(planes.begin(), planes.end(), same)) {
      throw section.bad_value("name", fmt::format("two planes are called '{}'", plane.name),
                              "give every plane a name of its own");
    }
    planes.push_back(plane);
  }
  if (planes.empty()) throw file.missing("plane");
  return planes;
}

void read_limit(TomlSection& section, Shaft& shaft) {
  shaft.grade = section.text("grade").value_or("");
  auto limits = section.section("limit");
  if (!shaft.grade.empty() && limits) {
    throw section.bad_value("limit", "the shaft has a grade and limits too",
                            "keep the one that counts and take out the other");
  }
  if (!shaft.grade.empty()) section.located("grade", [&] { return grade_m_s(shaft.grade); });
  if (!limits) return;
  for (const std::string& plane : limits->keys()) {
    shaft.limits_kg_m[plane] = limits->need_quantity(plane);
  }
}

void check_limits(TomlSection& section, const Shaft& shaft) {
  for (const auto& [name, limit] : shaft.limits_kg_m) {
    auto same = [&name = name](const Plane& plane) { return plane.name == name; };
    if (std::none_of(shaft.planes.begin(), shaft.planes.end(), same)) {
      throw section.bad_value("limit",
                              fmt::format("there is a limit for plane '{}', which the shaft does not have", name),
                              "give limits for the planes that [[plane]] names");
    }
  }
}

Shaft shaft_of(const toml::table& table, const std::filesystem::path& path) {
  TomlSection file(table, path.string(), FileKind::shaft);
  TomlSection section = file.need_section("shaft");
  Shaft shaft;
  shaft.id = section.need_text("id");
  shaft.mass_kg = section.quantity("mass");
  shaft.service_speed_rad_s = section.quantity("service_speed");
  read_limit(section, shaft);
  section.finish();
  if (auto tube = file.section("tube")) shaft.tube = read_tube(*tube);
  if (auto supports = file.section("supports")) shaft.supports = read_supports(*supports);
  if (auto joints = file.section("joints")) shaft.joints = read_joints(*joints);
  shaft.planes = read_planes(file);
  for (TomlSection& part : file.sections("section")) shaft.sections.push_back(read_section(part));
  for (TomlSection& mass : file.sections("mass")) shaft.masses.push_back(read_mass(mass));
  for (TomlSection& support : file.sections("support")) shaft.bearings.push_back(read_support(support));
  if (auto straightness = file.section("straightness")) read_straightness(*straightness, shaft);
  read_work_order(file);  // for the sheet
  file.finish();
  check_limits(section, shaft);
  return shaft;
}

/// A plane without a limit would leave the verdict unsaid.
void refuse_missing_limits(const toml::table& table, const std::filesystem::path& path, const Shaft& shaft) {
  if (shaft.limits_kg_m.empty()) return;
  std::vector<std::string> without;
  std::vector<std::string> wanted;
  for (const Plane& plane : shaft.planes) {
    if (!shaft.limits_kg_m.contains(plane.name)) without.push_back(plane.name);
    wanted.push_back(fmt::format("{} = \"40 g·mm\"", plane.name));
  }
  if (without.empty()) return;
  throw TomlSection(table, path.string(), FileKind::shaft)
      .need_section("shaft")
      .bad_value("limit", fmt::format("plane {} has no limit", fmt::join(without, ", ")),
                 fmt::format("name every plane: limit = {{ {} }}", fmt::join(wanted, ", ")));
}

Shaft new_shaft(const toml::table& table, const std::filesystem::path& path) {
  Shaft shaft = shaft_of(table, path);
  refuse_missing_limits(table, path, shaft);
  return shaft;
}

}  // namespace

Shaft read_shaft(const std::filesystem::path& path) {
  return new_shaft(parse_toml(path), path);
}

Shaft read_shaft_text(const std::string& text, const std::filesystem::path& path) {
  return new_shaft(parse_toml(text, path), path);
}

Shaft kept_shaft(const std::string& text, const std::filesystem::path& path) {
  return shaft_of(parse_toml(text, path), path);
}

}  // namespace counterspot
