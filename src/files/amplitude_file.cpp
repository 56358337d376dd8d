#include <fmt/format.h>

#include "counterspot/files/amplitude_file.hpp"
#include "counterspot/files/files.hpp"
#include "files/fitted_section.hpp"
#include "files/work_order_section.hpp"
#include "units/typed.hpp"

namespace counterspot {

namespace {

constexpr double usual_uncertainty = 0.02;  // of an amplitude read off a meter; common practice, no source

void read_amplitudes(TomlSection section, const Rig& rig, AmplitudeSpin& spin, bool& assumed) {
  AmplitudeReading& reading = spin.reading;
  for (const Sensor& sensor : rig.sensors) {
    const auto text = section.need_text(sensor.name);
    const TypedVector typed = section.located(sensor.name, [&] { return parse_amplitude(text); });
    const double amplitude = std::abs(typed.value);
    assumed = assumed || !typed.standard_uncertainty;
    spin.motions.push_back(typed.motion);
    reading.amplitudes.push_back(amplitude);
    reading.u_amplitudes.push_back(typed.standard_uncertainty.value_or(usual_uncertainty * amplitude));
    if (!(amplitude > 0.0) || !(reading.u_amplitudes.back() > 0.0))
      throw section.bad_form(sensor.name, "an amplitude and its uncertainty are more than 0");
  }
  section.finish();
}

AmplitudeSpin read_amplitude_spin(TomlSection section, const std::filesystem::path& folder, const AmplitudeSet& set,
                                  bool& assumed) {
  AmplitudeSpin spin;
  spin.reading.label = section.need_text("label");
  const auto recording = section.text("recording");
  const auto amplitude = section.section("amplitude");
  if (recording.has_value() == amplitude.has_value()) {
    throw section.refused(
        "amplitude", "missing_key",
        fmt::format("spin '{}' needs either 'amplitude' or 'recording', one of them and not both", spin.reading.label),
        "write amplitude = { A = \"6.0 mm/s ± 0.1 mm/s\", B = \"…\" }, or recording = \"00-as-found.wav\"");
  }
  if (recording) spin.recording = *recording == "-" ? std::filesystem::path("-") : folder / *recording;
  if (amplitude) read_amplitudes(*amplitude, set.rig, spin, assumed);
  spin.speed_rad_s = section.quantity("speed");
  for (TomlSection& fitted : section.sections("fitted"))
    spin.reading.fitted.push_back(read_fitted(fitted, set.rig, set.shaft));
  section.finish();
  return spin;
}

}  // namespace

AmplitudeSet read_amplitude_spins(const std::filesystem::path& path) {
  const toml::table table = parse_toml(path);
  const std::filesystem::path folder = path.parent_path();
  TomlSection file(table, path.string(), FileKind::spins);
  AmplitudeSet set;
  set.rig = read_rig(folder / file.need_text("rig"));
  set.shaft = read_shaft(folder / file.need_text("shaft"));
  bool assumed = false;
  for (TomlSection& section : file.sections("spin"))
    set.spins.push_back(read_amplitude_spin(section, folder, set, assumed));
  if (set.spins.empty()) throw file.missing("spin");
  read_work_order(file);  // nothing is reckoned with it
  file.finish();
  if (assumed) {
    set.warnings.push_back({WarningCode::no_uncertainty, std::nullopt,
                            "amplitudes came without an uncertainty, and 2 % was taken; type it with its ± if it "
                            "is known"});
  }
  return set;
}

}  // namespace counterspot
