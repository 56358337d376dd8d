#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/files.hpp"
#include "counterspot/tolerance.hpp"
#include "files/toml_section.hpp"

namespace counterspot {

namespace {

Tube read_tube(TomlSection section) {
  Tube tube;
  tube.outside_diameter_m = section.need_size("outside_diameter", Dimension::length, "outside_diameter = \"76.2 mm\"");
  tube.wall_m = section.need_size("wall", Dimension::length, "wall = \"2.1 mm\"");
  tube.length_m = section.need_size("length", Dimension::length, "length = \"1.42 m\"");
  tube.material = section.text("material").value_or("steel");
  if (2.0 * tube.wall_m > tube.outside_diameter_m) {
    throw section.bad_value("wall", "the wall is thicker than half the tube",
                            "measure wall and outside diameter again");
  }
  section.finish();
  return tube;
}

Supports read_supports(TomlSection section) {
  Supports supports;
  supports.a_m = section.need_quantity("A", Dimension::length, "A = \"0 mm\"");
  supports.b_m = section.need_quantity("B", Dimension::length, "B = \"1500 mm\"");
  supports.center_of_mass_m = section.quantity("center_of_mass", Dimension::length);
  supports.c_m = section.quantity("C", Dimension::length);
  if (supports.a_m == supports.b_m)
    throw section.bad_value("B", "the supports A and B are at the same place", "measure both from one origin");
  if (supports.c_m && !((*supports.c_m - supports.a_m) * (supports.b_m - *supports.c_m) > 0.0))
    throw section.bad_value("C", "the centre support does not lie between A and B", "measure all from one origin");
  section.finish();
  return supports;
}

Joints read_joints(TomlSection section) {
  Joints joints;
  joints.angle_a_rad = section.need_quantity("angle_A", Dimension::angle, "angle_A = \"4 deg\"");
  joints.angle_b_rad = section.need_quantity("angle_B", Dimension::angle, "angle_B = \"4 deg\"");
  joints.yoke_phase_rad = section.quantity("yoke_phase", Dimension::angle).value_or(0.0);
  section.finish();
  return joints;
}

std::vector<Plane> read_planes(TomlSection& file) {
  std::vector<Plane> planes;
  for (TomlSection& section : file.sections("plane")) {
    Plane plane;
    plane.name = section.need_text("name", "name = \"A\"");
    plane.position_m = section.need_quantity("position", Dimension::length, "position = \"70 mm\"");
    plane.radius_m = section.need_size("radius", Dimension::length, "radius = \"39 mm\"");
    plane.at_most_kg = section.size("at_most", Dimension::mass);
    section.finish();
    auto same = [&](const Plane& other) { return other.name == plane.name; };
    if (std::any_of(planes.begin(), planes.end(), same)) {
      throw section.bad_value("name", fmt::format("two planes are called '{}'", plane.name),
                              "give every plane a name of its own");
    }
    planes.push_back(plane);
  }
  if (planes.empty()) throw file.missing("plane", "[[plane]] with name, position and radius");
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
    shaft.limits_kg_m[plane] = limits->need_size(plane, Dimension::unbalance, "A = \"40 g·mm\"");
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
  TomlSection file(table, path.string(), "");
  TomlSection section = file.need_section("shaft", "[shaft] with id, mass, service_speed and grade");
  Shaft shaft;
  shaft.id = section.need_text("id", "id = \"PS-1042\"");
  shaft.mass_kg = section.size("mass", Dimension::mass);
  shaft.service_speed_rad_s = section.size("service_speed", Dimension::speed);
  read_limit(section, shaft);
  section.finish();
  if (auto tube = file.section("tube")) shaft.tube = read_tube(*tube);
  if (auto supports = file.section("supports")) shaft.supports = read_supports(*supports);
  if (auto joints = file.section("joints")) shaft.joints = read_joints(*joints);
  shaft.planes = read_planes(file);
  for (std::string_view details : {"section", "mass", "support", "straightness"})
    file.has(details);  // read_shaft_details
  file.finish();
  check_limits(section, shaft);
  return shaft;
}

}  // namespace

Shaft read_shaft(const std::filesystem::path& path) {
  return shaft_of(parse_toml(path), path);
}

Shaft read_shaft_text(const std::string& text, const std::filesystem::path& path) {
  return shaft_of(parse_toml(text, path), path);
}

}  // namespace counterspot
