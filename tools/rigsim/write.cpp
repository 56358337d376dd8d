#include "rigsim/write.hpp"

#include <fmt/format.h>
#include <sndfile.h>

#include <cmath>
#include <cstdio>
#include <memory>
#include <stdexcept>

namespace rigsim {

namespace {

[[noreturn]] void cannot_write(const std::filesystem::path& path) {
  throw std::runtime_error(fmt::format("{}: cannot be written", path.string()));
}

int format_of(const std::string& kind, int bits) {
  const int container = kind == ".flac" ? SF_FORMAT_FLAC : SF_FORMAT_WAV;
  if (bits == 16) return container | SF_FORMAT_PCM_16;
  if (bits == 24) return container | SF_FORMAT_PCM_24;
  return SF_FORMAT_WAV | SF_FORMAT_DOUBLE;
}

void write_audio(const std::filesystem::path& path, const Recorded& recorded) {
  SF_INFO info{};
  info.samplerate = static_cast<int>(recorded.sample_rate_Hz);
  info.channels = static_cast<int>(recorded.channels.size());
  info.format = format_of(path.extension().string(), recorded.bits);
  std::unique_ptr<SNDFILE, int (*)(SNDFILE*)> file(sf_open(path.c_str(), SFM_WRITE, &info), sf_close);
  if (!file) cannot_write(path);
  sf_command(file.get(), SFC_SET_ADD_PEAK_CHUNK, nullptr, SF_FALSE);  // it would hold the date
  const std::size_t frames = recorded.channels.front().volts.size();
  std::vector<int> codes(recorded.channels.size());
  std::vector<double> fractions(recorded.channels.size());
  for (std::size_t i = 0; i < frames; ++i) {
    for (std::size_t c = 0; c < codes.size(); ++c) {
      fractions[c] = recorded.channels[c].volts[i] / recorded.full_scale_V;
      // Whole converter codes, left-justified in 32 bits: exact, whatever the library thinks that full scale is.
      if (recorded.bits > 0) codes[c] = static_cast<int>(std::ldexp(fractions[c], 31));
    }
    sf_count_t written = recorded.bits > 0 ? sf_writef_int(file.get(), codes.data(), 1)
                                           : sf_writef_double(file.get(), fractions.data(), 1);
    if (written != 1) cannot_write(path);
  }
}

void write_csv(const std::filesystem::path& path, const Recorded& recorded) {
  std::unique_ptr<std::FILE, int (*)(std::FILE*)> file(std::fopen(path.c_str(), "wb"), std::fclose);
  if (!file) cannot_write(path);
  std::string text = "time (s)";
  for (const RecordedChannel& channel : recorded.channels) text += fmt::format(",{} (V)", channel.name);
  text += "\n";
  for (std::size_t i = 0; i < recorded.channels.front().volts.size(); ++i) {
    text += fmt::format("{:.7f}", static_cast<double>(i) / recorded.sample_rate_Hz);
    for (const RecordedChannel& channel : recorded.channels) text += fmt::format(",{:.5f}", channel.volts[i]);
    text += "\n";
  }
  if (std::fwrite(text.data(), 1, text.size(), file.get()) != text.size()) cannot_write(path);
}

std::string rig_text(const Scenario& scenario, bool csv) {
  const RigTruth& rig = scenario.rig;
  const bool pulls_down = rig.tach.low_V > rig.tach.high_V;
  auto channel = [&](const std::string& name, std::size_t number) {
    return csv ? "\"" + name + "\"" : std::to_string(number);
  };
  const std::string full_scale = csv ? "" : fmt::format("full_scale = \"{:g} V\"\n", rig.recorder.full_scale_V);
  std::string text = fmt::format(
      "[rig]\nname = \"{}\"\nrotation = \"counter-clockwise\"  # as seen from the viewing end\nviewing_end = \"A\"\n"
      "\n[tach]\nchannel = {}\npulses_per_revolution = {}\nedge = \"{}\"\n{}",
      scenario.rig_name, channel("tach", rig.sensors.size() + 1), rig.tach.pulses_per_revolution,
      pulls_down ? "falling" : "rising", full_scale);
  for (std::size_t s = 0; s < rig.sensors.size(); ++s) {
    const SensorTruth& sensor = rig.sensors[s];
    const char* unit = sensor.motion == counterspot::Motion::acceleration ? "m/s2"
                       : sensor.motion == counterspot::Motion::velocity   ? "mm/s"
                                                                          : "um";
    double millivolts = 1e3 * sensor.volts_per_si * counterspot::si_per_display_unit(sensor.motion);
    std::string sensitivity = fmt::format("{:.12g} mV/({})", millivolts, unit);
    if (sensor.motion == counterspot::Motion::acceleration) {
      sensitivity = fmt::format("{:.12g} mV/g", millivolts * counterspot::standard_gravity_m_s2);
    }
    text += fmt::format("\n[[sensor]]\nname = \"{}\"\nchannel = {}\nsensitivity = \"{}\"\n{}", sensor.name,
                        channel(sensor.name, s + 1), sensitivity, full_scale);
  }
  return text;
}

}  // namespace

void write_recording(const std::filesystem::path& path, const Recorded& recorded) {
  if (path.extension() == ".csv") {
    write_csv(path, recorded);
  } else {
    write_audio(path, recorded);
  }
}

std::string rig_toml(const Scenario& scenario) {
  return rig_text(scenario, false);
}

std::string rig_toml_for_csv(const Scenario& scenario) {
  return rig_text(scenario, true);
}

std::string shaft_toml(const Scenario& scenario) {
  const ShaftTruth& shaft = scenario.shaft;
  std::string text = fmt::format(
      "[shaft]\nid = \"{}\"\nmass = \"{:.2f} kg\"\nservice_speed = \"{:.0f} rpm\"\ngrade = \"G16\"\n"
      "\n[tube]\noutside_diameter = \"{:.2f} mm\"\nwall = \"{:.2f} mm\"\nlength = \"{:.0f} mm\"\nmaterial = \"steel\"\n"
      "\n[supports]  # along the axis, from the middle of bearing A\nA = \"{:.0f} mm\"\nB = \"{:.0f} mm\"\n"
      "center_of_mass = \"{:.0f} mm\"\n",
      scenario.shaft_id, shaft.mass_kg(), counterspot::rpm(scenario.service_rad_s),
      1e3 * scenario.tube.outside_diameter_m, 1e3 * scenario.tube.wall_m, 1e3 * (shaft.tube_end_m - shaft.tube_begin_m),
      0.0, 1e3 * (shaft.support_b_m - shaft.support_a_m), 1e3 * (shaft.center_of_mass_m() - shaft.support_a_m));
  for (const PlaneTruth& plane : scenario.planes) {
    text += fmt::format("\n[[plane]]\nname = \"{}\"\nposition = \"{:.1f} mm\"\nradius = \"{:.2f} mm\"\n", plane.name,
                        1e3 * (plane.position_m - shaft.support_a_m), 1e3 * plane.radius_m);
  }
  return text;
}

}  // namespace rigsim
