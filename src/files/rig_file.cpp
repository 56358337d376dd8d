#include <fmt/format.h>

#include <algorithm>

#include "counterspot/files/files.hpp"
#include "counterspot/units/coverage.hpp"
#include "files/toml_section.hpp"

namespace counterspot {

namespace {

namespace fs = std::filesystem;

std::optional<ChannelRef> read_channel(TomlSection& section, std::string_view key = "channel") {
  if (!section.has(key)) return std::nullopt;
  if (section.is_text(key)) return section.need_text(key);
  auto number = section.whole_number(key);
  if (*number < 1) throw section.bad_value(key, "channels are counted from 1", "write 1 for the first channel");
  return *number;
}

/// In volts, or a bare number in the CSV column's own unit.
std::optional<double> read_level(TomlSection& section, std::string_view key) {
  return section.is_text(key) ? section.quantity(key) : section.number(key);
}

Rotation turning(std::size_t choice) {
  return choice == 0 ? Rotation::clockwise : Rotation::counter_clockwise;
}

/// `channel` is A of an encoder with `second_channel`, and counts as the tach unless there is an index.
void read_encoder(TomlSection& tach, TachSetup& setup) {
  const auto second = read_channel(tach, "second_channel");
  const auto index = read_channel(tach, "index_channel");
  if ((second || index) && !setup.channel) throw tach.missing("channel");
  if (second)
    setup.encoder =
        EncoderPair{*setup.channel, *second, turning(tach.need_choice("a_leads")), setup.pulses_per_revolution};
  if (!index) return;
  setup.channel = index;
  setup.pulses_per_revolution = 1;
}

/// `speed_channel` and what belongs to it; nothing else of a tach may then be stated.
TachSetup read_speed_signal(TomlSection& tach) {
  TachSetup setup;
  setup.speed_channel = read_channel(tach, "speed_channel");
  setup.speed_scale_rad_s = tach.quantity("speed_scale");
  setup.full_scale_V = tach.quantity("full_scale");
  if (tach.has("channel") || tach.has("times")) {
    throw tach.refused("speed_channel", "missing_key",
                       "a speed signal stands in place of a tach, and there is a tach too",
                       "leave speed_channel out: the tach tells the speed, and phase as well");
  }
  tach.finish();
  return setup;
}

TachSetup read_tach(TomlSection tach, const fs::path& folder) {
  if (tach.has("speed_channel")) return read_speed_signal(tach);
  TachSetup setup;
  setup.channel = read_channel(tach);
  if (auto times = tach.text("times")) setup.times_file = (folder / *times).string();
  setup.times_mark = tach.text("mark").value_or("");
  setup.pulses_per_revolution = tach.need_whole_number("pulses_per_revolution");
  setup.edge = tach.need_choice("edge") == 0 ? Edge::rising : Edge::falling;
  setup.level = read_level(tach, "level");
  setup.hysteresis = read_level(tach, "hysteresis");
  setup.full_scale_V = tach.quantity("full_scale");
  if (!tach.has("index_channel") && setup.pulses_per_revolution > 1000)  // beside an index they are not timed
    throw tach.bad_value("pulses_per_revolution", "must be from 1 to 1000", "write how many pulses one turn gives");
  if (setup.channel.has_value() == !setup.times_file.empty()) {
    throw tach.refused(setup.channel ? "times" : "channel", "missing_key",
                       "the tach needs either 'channel' or 'times', one of them and not both",
                       "write channel = 3 (or a CSV column's name), or times = \"edges.csv\"");
  }
  read_encoder(tach, setup);
  tach.finish();
  return setup;
}

Sensor read_sensor(TomlSection section) {
  Sensor sensor;
  sensor.name = section.need_text("name");
  auto channel = read_channel(section);
  if (!channel) throw section.missing("channel");
  sensor.channel = *channel;
  auto sensitivity = section.need_text("sensitivity");
  sensor.sensitivity = section.located("sensitivity", [&] { return parse_sensitivity(sensitivity); });
  sensor.full_scale_V = section.need_quantity("full_scale");
  sensor.ac_coupling_Hz = section.quantity("ac_coupling");
  sensor.ac_coupling_uncertainty = section.need_quantity("ac_coupling_uncertainty");
  sensor.mounting_uncertainty_rad = section.need_quantity("mounting_uncertainty");
  section.finish();
  return sensor;
}

SettingUncertainty read_setting(TomlSection setting) {
  SettingUncertainty values;
  values.mass_fraction = setting.need_quantity("mass");
  values.angle_rad = setting.need_quantity("angle");
  values.turned_rad = setting.need_quantity("turned");
  values.repeat_fraction = setting.need_quantity("repeat");
  setting.finish();
  return values;
}

RigClaims read_claims(TomlSection section) {
  RigClaims claims;
  claims.umar_kg_m = section.need_quantity("smallest_residual");
  claims.reduction = section.need_quantity("reduction");
  claims.sensor_change = section.need_quantity("sensor_change");
  claims.cross_talk = section.need_quantity("cross_talk");
  claims.speed_effect = section.need_quantity("speed_effect");
  if (auto adapters = section.quantity("adapters")) claims.adapters_over_umar = *adapters / claims.umar_kg_m;
  claims.every_s = section.need_quantity("every");
  section.finish();
  return claims;
}

/// @param usual_part one standard deviation where no ± is typed (common practice, no source).
std::optional<KnownSize> read_known_size(TomlSection& section, std::string_view key, double usual_part) {
  const auto typed = section.size_with_plus_minus(key);
  if (!typed) return std::nullopt;
  if (!typed->plus_minus) return KnownSize{typed->value, usual_part * typed->value};
  if (!(*typed->plus_minus > 0.0 && *typed->plus_minus < typed->value))
    throw section.bad_form(key, "its ± must be more than 0 and less than the value");
  return KnownSize{typed->value, *typed->plus_minus / coverage_factor};
}

void read_pedestal(TomlSection& section, KnownPedestal& known) {
  if (auto mass = read_known_size(section, "moving_mass", 0.1)) known.moving_mass_kg = mass;
  if (auto rate = read_known_size(section, "natural_frequency", 0.05)) known.natural_frequency_Hz = rate;
}

/// `[pedestal]` holds for both; `[pedestal.A]` and `[pedestal.B]` for one.
std::array<KnownPedestal, 2> read_pedestals(TomlSection both) {
  std::array<KnownPedestal, 2> pedestals;
  for (KnownPedestal& pedestal : pedestals) read_pedestal(both, pedestal);
  const std::pair<const char*, KnownPedestal*> ends[] = {{"A", pedestals.data()}, {"B", pedestals.data() + 1}};
  for (const auto& [name, pedestal] : ends) {
    auto one = both.section(name);
    if (!one) continue;
    read_pedestal(*one, *pedestal);
    one->finish();
  }
  both.finish();
  return pedestals;
}

std::optional<char> read_separator(TomlSection& section) {
  const auto text = section.text("separator");
  if (!text) return std::nullopt;
  if (*text == "tab") return '\t';
  if (*text == "blank" || *text == "blanks" || *text == "space") return ' ';
  if (text->size() == 1 && std::string_view(",;\t ").find((*text)[0]) != std::string_view::npos) return (*text)[0];
  throw section.bad_value("separator", fmt::format("'{}' parts no cells", *text),
                          "write \",\", \";\", \"tab\" or \"blank\"");
}

std::vector<std::pair<std::string, std::string>> read_units(TomlSection& section) {
  std::vector<std::pair<std::string, std::string>> units;
  auto table = section.section("units");
  if (!table) return units;
  for (const std::string& column : table->keys()) {
    const std::string unit = table->need_text(column);
    if (!find_motion_unit(unit) && !find_voltage_unit(unit)) {
      throw table->bad_value(column, fmt::format("'{}' is a unit neither of motion nor of voltage", unit),
                             "write one such as \"g\", \"m/s2\", \"mm/s\", \"um\", \"V\" or \"mV\"");
    }
    units.emplace_back(column, unit);
  }
  table->finish();
  return units;
}

/// `[recording]`: how recordings are written.
StatedFormat read_format(TomlSection section) {
  StatedFormat format;
  format.separator = read_separator(section);
  if (const auto decimal = section.choice("decimal")) format.decimal = *decimal == 0 ? '.' : ',';
  format.encoding = section.text("encoding").value_or("");
  format.first_row = section.whole_number("first_row");
  format.time = section.text("time");
  format.time_unit = section.text("time_unit").value_or("");
  format.units = read_units(section);
  section.finish();
  return format;
}

std::vector<Sensor> read_sensors(TomlSection& file) {
  std::vector<Sensor> sensors;
  for (TomlSection& section : file.sections("sensor")) {
    sensors.push_back(read_sensor(section));
    const auto& name = sensors.back().name;
    auto same = [&](const Sensor& sensor) { return sensor.name == name; };
    if (std::count_if(sensors.begin(), sensors.end(), same) > 1) {
      throw section.bad_value("name", fmt::format("two sensors are called '{}'", name),
                              "give every sensor a name of its own");
    }
  }
  if (sensors.empty()) throw file.missing("sensor");
  return sensors;
}

Rig rig_of(const toml::table& table, const fs::path& path) {
  TomlSection file(table, path.string(), FileKind::rig);
  Rig rig;
  TomlSection section = file.need_section("rig");
  rig.name = section.need_text("name");
  rig.rotation = turning(section.need_choice("rotation"));
  rig.viewing_end = section.need_choice("viewing_end") == 0 ? "A" : "B";
  rig.sample_rate_Hz = section.quantity("sample_rate");
  section.finish();
  rig.tach = read_tach(file.need_section("tach"), path.parent_path());
  rig.sensors = read_sensors(file);
  if (auto format = file.section("recording")) rig.format = read_format(*format);
  if (auto setting = file.section("setting")) rig.setting = read_setting(*setting);
  if (auto claims = file.section("qualification")) rig.claims = read_claims(*claims);
  if (auto pedestals = file.section("pedestal")) rig.pedestals = read_pedestals(*pedestals);
  file.finish();
  return rig;
}

}  // namespace

Rig read_rig(const fs::path& path) {
  return rig_of(parse_toml(path), path);
}

Rig read_rig_text(const std::string& text, const fs::path& path) {
  return rig_of(parse_toml(text, path), path);
}

}  // namespace counterspot
