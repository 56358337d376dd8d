#include "demo_files.hpp"

#include <fmt/format.h>

namespace counterspot::test {

std::string rig_toml(const RigText& rig) {
  std::string text = fmt::format(R"([rig]
name = "{}"
rotation = "counter-clockwise"
viewing_end = "A"
[tach]
channel = 3
)",
                                 rig.name);
  for (std::size_t i = 0; i < rig.sensors.size(); ++i) {
    text += fmt::format(R"([[sensor]]
name = "{}"
channel = {}
sensitivity = "{}"
full_scale = "10 V"
)",
                        rig.sensors[i], i + 1, rig.sensitivity);
  }
  return text;
}

std::string shaft_toml(const ShaftText& shaft) {
  return fmt::format(R"([shaft]
id = "{}"
mass = "14.6 kg"
service_speed = "3200 rpm"
{}
[tube]
outside_diameter = "76.2 mm"
wall = "2.1 mm"
length = "1.42 m"
[supports]
A = "0 mm"
B = "1500 mm"
[[plane]]
name = "A"
position = "70 mm"
radius = "{}"
[[plane]]
name = "B"
position = "1430 mm"
radius = "{}"
)",
                     shaft.id, shaft.limit, shaft.radius, shaft.radius);
}

}  // namespace counterspot::test
