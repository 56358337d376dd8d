#include "commands/typed_spin.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "commands/log_place.hpp"
#include "counterspot/guide/guide.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot::commands {

namespace {

void refuse_unknown(const std::vector<std::string>& vectors, const Rig& rig) {
  for (const std::string& text : vectors) {
    const bool known = std::any_of(rig.sensors.begin(), rig.sensors.end(),
                                   [&](const Sensor& sensor) { return text.starts_with(sensor.name + "="); });
    if (known) continue;
    throw Error(Trouble::request, "wrong_sensors", fmt::format("'{}' is the vector of no sensor of this rig", text),
                fmt::format("begin each with its sensor's name, as in --vector \"{}=6.0 mm/s @ 35 deg ± 0.1 mm/s\"",
                            rig.sensors.front().name));
  }
}

/// "A=6.0 mm/s @ 35 deg ± 0.1 mm/s", one for each sensor.
Spun spun_of_vectors(const std::vector<std::string>& vectors, const std::string& speed, const Rig& rig) {
  refuse_unknown(vectors, rig);
  Spun spun;
  if (!speed.empty()) spun.speed_rad_s = parse_quantity(speed, Dimension::speed);
  for (const Sensor& sensor : rig.sensors) {
    auto typed = std::find_if(vectors.begin(), vectors.end(),
                              [&](const std::string& text) { return text.starts_with(sensor.name + "="); });
    if (typed == vectors.end()) {
      throw Error(Trouble::request, "wrong_sensors", fmt::format("there is no --vector for sensor {}", sensor.name),
                  fmt::format("give one, as in --vector \"{}=6.0 mm/s @ 35 deg ± 0.1 mm/s\"", sensor.name));
    }
    const TypedVector vector = parse_vector(typed->substr(sensor.name.size() + 1));
    const double u = vector.standard_uncertainty.value_or(0.0);
    spun.readings.push_back({sensor.name, vector.motion, vector.value, u * u * Eigen::Matrix2d::Identity()});
  }
  return spun;
}

}  // namespace

Opening opening_of(const std::string& rig_file, const std::string& shaft_file) {
  const KeptFile rig = kept_file(rig_file);
  const KeptFile shaft = kept_file(shaft_file);
  return {rig.path, rig.text, shaft.path, shaft.text, program_name(), now_unix_s()};
}

Spun SpinAsked::spun(const Rig& rig, const Shaft& shaft) const {
  if (recording.empty() == vectors.empty()) {
    throw Error(Trouble::request, "no_spin", "a spin is either a recording or typed vectors",
                "name the recording's file, or - for standard input, or give --vector for every sensor");
  }
  const Rig as_stated = with_stated(rig, stated);
  return recording.empty() ? spun_of_vectors(vectors, speed, as_stated) : measured_spin(recording, as_stated, shaft);
}

void add_spin_options(CLI::App& command, SpinAsked& asked) {
  command.add_option("recording", asked.recording,
                     "The recording, a file or a folder with a file for each channel; - is standard input");
  command.add_option(
      "--vector", asked.vectors,
      "Typed instead of recorded, one for each sensor: \"A=6.0 mm/s @ 35 deg ± 0.1 mm/s\" \"B=…\"; the ± "
      "holds 95 %");
  command.add_option("--speed", asked.speed, "Of typed vectors, as in \"1800 rpm\"");
  add_stated_options(command, asked.stated);
}

}  // namespace counterspot::commands
