#include "commands/typed_spin.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "commands/log_place.hpp"
#include "commands/output.hpp"
#include "counterspot/guide/guide.hpp"
#include "counterspot/recording/capture.hpp"
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

void add_record_options(CLI::App& command, SpinToRecord& asked) {
  command.add_option("--source", asked.source,
                     std::string("Where no recording is named, it is made now: ") + source_words);
  command.add_option("--seconds", asked.seconds, "How long")->capture_default_str();
  command.add_option("--recordings", asked.recordings, "The folder where it is kept");
  command.add_option("--source-rate", asked.live.rate, "Samples a second of a device or of raw samples");
  command.add_option("--source-channels", asked.live.channels, "How many it has, the tach's among them")
      ->capture_default_str();
  command.add_option("--source-format", asked.live.format, "Of raw samples: s16le, s24le, s32le (else), f32le");
}

namespace {

/// "PS-1042-1-spin-2.w64", and a number more if that is taken.
std::filesystem::path free_spin_file(const std::filesystem::path& folder, const Job& job) {
  std::string name = fmt::format("{}-{}", job.name, job.events.size() + 1);
  for (char& c : name)
    if (c == '/' || c == ' ') c = '-';
  std::filesystem::path file = folder / (name + ".w64");
  for (int n = 2; std::filesystem::exists(file); ++n) file = folder / fmt::format("{}-{}.w64", name, n);
  return file;
}

}  // namespace

std::string recorded_spin(const SpinToRecord& asked, const Job& job) {
  if (asked.recordings.empty())
    throw Error(Trouble::request, "no_recordings", "it is not said where recordings are kept",
                "name the folder with --recordings, or once with 'counterspot shop recordings spins'");
  const double seconds = parse_quantity(asked.seconds, Dimension::time);
  if (!(seconds > 0.0)) throw Error(Trouble::request, "bad_value", "a spin takes time", "write --seconds \"10 s\"");
  std::filesystem::create_directories(asked.recordings);
  const auto live = open_live(asked.source, live_options_of(asked.live));
  const std::filesystem::path file = free_spin_file(asked.recordings, job);
  print_progress(file.string());
  record_into(file, *live, seconds);
  return file.string();
}

}  // namespace counterspot::commands
