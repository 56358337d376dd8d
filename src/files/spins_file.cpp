#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "counterspot/files/files.hpp"
#include "counterspot/placement/shop_words.hpp"
#include "files/fitted_section.hpp"
#include "files/text_file.hpp"
#include "files/work_order_section.hpp"
#include "model/names.hpp"

namespace counterspot {

namespace {

namespace fs = std::filesystem;

/// Where a weight sits, as the operator found it: by shaft angle, by tape along the tube or by the clock, which is the
/// one at the rig's viewing end with the mark at 12:00. An angle like "3:00" is such a clock position too.
double read_place(TomlSection& section, const Rig& rig, const Shaft& shaft) {
  const int ways = section.has("angle") + section.has("arc") + section.has("clock");
  if (ways > 1) {
    throw section.bad_value("angle", "the place is stated in more than one way",
                            "keep one of 'angle', 'arc' and 'clock'");
  }
  if (auto text = section.text("clock"))
    return section.located("clock", [&] { return shaft_angle_of_clock(parse_clock(*text), rig.rotation); });
  if (auto text = section.text("arc")) {
    if (!shaft.tube)
      throw section.bad_value("arc", "the shaft has no tube to measure along", "add [tube] to the shaft's file");
    const ArcLength arc = section.located("arc", [&] { return parse_arc(*text); });
    return shaft_angle_of_arc(arc, shaft.tube->outside_diameter_m);
  }
  if (auto text = section.text("angle"); text && text->find(':') != std::string::npos)
    return section.located("angle", [&] { return shaft_angle_of_clock(parse_clock(*text), rig.rotation); });
  return wrap_positive(section.need_quantity("angle"));
}

std::vector<TypedVector> read_vectors(TomlSection section, const Rig& rig) {
  std::vector<TypedVector> vectors;
  for (const Sensor& sensor : rig.sensors) {
    auto text = section.need_text(sensor.name);
    vectors.push_back(section.located(sensor.name, [&] { return parse_vector(text); }));
  }
  section.finish();
  return vectors;
}

SpinEntry read_spin(TomlSection section, const fs::path& folder, const Rig& rig, const Shaft& shaft) {
  SpinEntry spin;
  spin.label = section.need_text("label");
  auto recording = section.text("recording");
  auto vector = section.section("vector");
  if (recording.has_value() == vector.has_value()) {
    throw section.refused(
        "recording", "missing_key",
        fmt::format("spin '{}' needs either 'recording' or 'vector', one of them and not both", spin.label),
        "write recording = \"00-as-found.wav\", or vector = { A = \"6.0 mm/s @ 35 deg\", B = \"…\" }");
  }
  if (recording) spin.recording = *recording == "-" ? fs::path("-") : folder / *recording;
  if (vector) spin.typed = read_vectors(*vector, rig);
  spin.speed_rad_s = section.quantity("speed");
  if (recording && spin.speed_rad_s) {
    throw section.bad_value("speed", "the speed of a recorded spin is measured, not typed", "take the line out");
  }
  spin.turned_rad = section.quantity("turned");
  for (TomlSection& fitted : section.sections("fitted")) spin.fitted.push_back(read_fitted(fitted, rig, shaft));
  section.finish();
  return spin;
}

}  // namespace

FittedWeight read_fitted(TomlSection section, const Rig& rig, const Shaft& shaft) {
  FittedWeight weight;
  auto name = section.need_text("plane");
  auto plane =
      std::find_if(shaft.planes.begin(), shaft.planes.end(), [&](const Plane& each) { return each.name == name; });
  if (plane == shaft.planes.end()) {
    throw section.bad_value("plane", fmt::format("the shaft has no plane '{}'", name),
                            fmt::format("its planes are {}", fmt::join(names_of(shaft.planes), ", ")));
  }
  weight.plane = static_cast<int>(plane - shaft.planes.begin());
  weight.mass_kg = section.need_quantity("mass");
  weight.angle_rad = read_place(section, rig, shaft);
  weight.radius_m = section.quantity("radius").value_or(plane->radius_m);
  section.finish();
  return weight;
}

SpinSet read_spins(const fs::path& path) {
  const toml::table table = parse_toml(path);
  const fs::path folder = path.parent_path();
  TomlSection file(table, path.string(), FileKind::spins);
  SpinSet set;
  set.rig_path = folder / file.need_text("rig");
  set.shaft_path = folder / file.need_text("shaft");
  set.rig = read_rig(set.rig_path);
  set.shaft = read_shaft(set.shaft_path);
  for (TomlSection& section : file.sections("spin"))
    set.spins.push_back(read_spin(section, folder, set.rig, set.shaft));
  if (set.spins.empty()) throw file.missing("spin");
  set.order = completed(read_work_order(file), work_order_in(text_of_file(set.shaft_path), set.shaft_path));
  file.finish();
  return set;
}

}  // namespace counterspot
