#pragma once

#include <string>
#include <vector>

namespace counterspot::test {

/// The rig file of most tests: two accelerometers A and B on channels 1 and 2, the tach on channel 3.
struct RigText {
  std::string name = "bay 2";
  std::string sensitivity = "100 mV/g";
  std::vector<std::string> sensors = {"A", "B"};
};
std::string rig_toml(const RigText& rig = {});

/// The shaft file of most tests: 14.6 kg, planes A and B at 70 mm and 1430 mm between supports at 0 mm and 1500 mm.
struct ShaftText {
  std::string id = "PS-1042";
  std::string limit = "grade = \"G16\"";
  std::string radius = "39 mm";
};
std::string shaft_toml(const ShaftText& shaft = {});

}  // namespace counterspot::test
