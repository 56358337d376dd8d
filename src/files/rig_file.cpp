#include <fmt/format.h>

#include <algorithm>

#include "counterspot/files/files.hpp"
#include "counterspot/units/coverage.hpp"
#include "files/toml_section.hpp"
#include "units/typed.hpp"

namespace counterspot {

namespace {

namespace fs = std::filesystem;

std::optional<ChannelRef> read_channel(TomlSection& section, std::string_view key = "channel") {
  if (!section.has(key)) return std::nullopt;
  if (section.is_text(key)) return section.need_text(key, fmt::format("{} = \"accel\"", key));
  auto number = section.whole_number(key);
  if (*number < 1) throw section.bad_value(key, "channels are counted from 1", "write 1 for the first channel");
  return *number;
}

/// In volts, or a bare number in the CSV column's own unit.
std::optional<double> read_level(TomlSection& section, std::string_view key) {
  return section.is_text(key) ? section.quantity(key, Dimension::voltage) : section.number(key);
}

Edge read_edge(TomlSection& tach) {
  auto edge = tach.text("edge").value_or("rising");
  if (edge == "rising") return Edge::rising;
  if (edge == "falling") return Edge::falling;
  throw tach.bad_value("edge", fmt::format("'{}' is not an edge", edge), "write \"rising\" or \"falling\"");
}

Rotation read_turning(TomlSection& section, std::string_view key) {
  auto rotation = section.need_text(key, fmt::format("{} = \"counter-clockwise\"", key));
  if (rotation == "clockwise") return Rotation::clockwise;
  if (rotation == "counter-clockwise") return Rotation::counter_clockwise;
  throw section.bad_value(key, fmt::format("'{}' is not a direction of rotation", rotation),
                          "write \"clockwise\" or \"counter-clockwise\", as seen from the viewing end");
}

/// `channel` is A of an encoder with `second_channel`, and counts as the tach unless there is an index.
void read_encoder(TomlSection& tach, TachSetup& setup) {
  const auto second = read_channel(tach, "second_channel");
  const auto index = read_channel(tach, "index_channel");
  if ((second || index) && !setup.channel) throw tach.missing("channel", "channel = 3, where the encoder's A is");
  if (second)
    setup.encoder = EncoderPair{*setup.channel, *second, read_turning(tach, "a_leads"), setup.pulses_per_revolution};
  if (!index) return;
  setup.channel = index;
  setup.pulses_per_revolution = 1;
}

/// `speed_channel` and what belongs to it; nothing else of a tach may then be stated.
TachSetup read_speed_signal(TomlSection& tach) {
  TachSetup setup;
  setup.speed_channel = read_channel(tach, "speed_channel");
  setup.speed_scale_rad_s = tach.size("speed_scale", Dimension::speed);
  setup.full_scale_V = tach.size("full_scale", Dimension::voltage);
  if (tach.has("channel") || tach.has("times")) {
    throw Error(Trouble::request, "missing_key",
                tach.where("speed_channel") + "a speed signal stands in place of a tach, and there is a tach too",
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
  setup.pulses_per_revolution = tach.whole_number("pulses_per_revolution").value_or(1);
  setup.edge = read_edge(tach);
  setup.level = read_level(tach, "level");
  setup.hysteresis = read_level(tach, "hysteresis");
  setup.full_scale_V = tach.size("full_scale", Dimension::voltage);
  const int most = tach.has("index_channel") ? 100000 : 1000;  // beside an index they are not timed
  if (setup.pulses_per_revolution < 1 || setup.pulses_per_revolution > most) {
    throw tach.bad_value("pulses_per_revolution", fmt::format("must be from 1 to {}", most),
                         "write how many pulses one turn gives");
  }
  if (setup.hysteresis && !(*setup.hysteresis >= 0.0))
    throw tach.bad_value("hysteresis", "must not be negative", "write its full width");
  if (setup.channel.has_value() == !setup.times_file.empty()) {
    throw Error(Trouble::request, "missing_key",
                tach.where(setup.channel ? "times" : "channel") +
                    "the tach needs either 'channel' or 'times', one of them and not both",
                "write channel = 3 (or a CSV column's name), or times = \"edges.csv\"");
  }
  read_encoder(tach, setup);
  tach.finish();
  return setup;
}

Sensor read_sensor(TomlSection section) {
  Sensor sensor;
  sensor.name = section.need_text("name", "name = \"A\"");
  auto channel = read_channel(section);
  if (!channel) throw section.missing("channel", "channel = 1");
  sensor.channel = *channel;
  auto sensitivity = section.need_text("sensitivity", "sensitivity = \"100 mV/g\"");
  sensor.sensitivity = section.located("sensitivity", [&] { return parse_sensitivity(sensitivity); });
  sensor.full_scale_V = section.size("full_scale", Dimension::voltage).value_or(1.0);
  sensor.ac_coupling_Hz = section.size("ac_coupling", Dimension::frequency);
  if (auto u = section.quantity("ac_coupling_uncertainty", Dimension::fraction)) sensor.ac_coupling_uncertainty = *u;
  if (auto u = section.quantity("mounting_uncertainty", Dimension::angle)) sensor.mounting_uncertainty_rad = *u;
  section.finish();
  return sensor;
}

std::string read_viewing_end(TomlSection& rig) {
  auto end = rig.need_text("viewing_end", "viewing_end = \"A\"");
  if (end == "A" || end == "B") return end;
  throw rig.bad_value("viewing_end", fmt::format("'{}' is not an end of the rig", end), "write \"A\" or \"B\"");
}

SettingUncertainty read_setting(TomlSection setting) {
  SettingUncertainty values;
  values.mass_fraction = setting.quantity("mass", Dimension::fraction).value_or(values.mass_fraction);
  values.angle_rad = setting.quantity("angle", Dimension::angle).value_or(values.angle_rad);
  values.turned_rad = setting.quantity("turned", Dimension::angle).value_or(values.turned_rad);
  values.repeat_fraction = setting.quantity("repeat", Dimension::fraction).value_or(values.repeat_fraction);
  if (values.mass_fraction < 0.0)
    throw setting.bad_value("mass", "must not be negative", "write it like mass = \"1 %\"");
  if (values.angle_rad < 0.0)
    throw setting.bad_value("angle", "must not be negative", "write it like angle = \"1 deg\"");
  if (values.turned_rad < 0.0)
    throw setting.bad_value("turned", "must not be negative", "write it like turned = \"0.5 deg\"");
  if (values.repeat_fraction < 0.0)
    throw setting.bad_value("repeat", "must not be negative", "write it like repeat = \"0.5 %\"");
  setting.finish();
  return values;
}

RigClaims read_claims(TomlSection section) {
  RigClaims claims;
  const std::string example = "smallest_residual = \"80 g·mm\"";
  claims.umar_kg_m = section.need_quantity("smallest_residual", Dimension::unbalance, example);
  if (!(claims.umar_kg_m > 0.0))
    throw section.bad_value("smallest_residual", "must be more than 0", "write it like " + example);
  const std::pair<const char*, double*> shares[] = {{"reduction", &claims.reduction},
                                                    {"sensor_change", &claims.sensor_change},
                                                    {"cross_talk", &claims.cross_talk},
                                                    {"speed_effect", &claims.speed_effect}};
  for (const auto& [key, value] : shares) {
    *value = section.quantity(key, Dimension::fraction).value_or(*value);
    if (!(*value > 0.0 && *value < 1.0))
      throw section.bad_value(key, "must be between 0 and 100 %", fmt::format("write it like {} = \"10 %\"", key));
  }
  if (auto adapters = section.size("adapters", Dimension::unbalance))
    claims.adapters_over_umar = *adapters / claims.umar_kg_m;
  claims.every_s = section.size("every", Dimension::time).value_or(claims.every_s);
  section.finish();
  return claims;
}

/// @param usual_part one standard deviation where no ± is typed (common practice, no source).
std::optional<KnownSize> read_known_size(TomlSection& section, std::string_view key, Dimension dimension,
                                         double usual_part, const std::string& example) {
  const auto text = section.text(key);
  if (!text) return std::nullopt;
  const TypedSize typed = section.located(key, [&] { return parse_size_with_plus_minus(*text, dimension); });
  const std::string remedy = fmt::format("write it like {} = {}", key, example);
  if (!(typed.value > 0.0)) throw section.bad_value(key, "must be more than 0", remedy);
  if (!typed.plus_minus) return KnownSize{typed.value, usual_part * typed.value};
  if (!(*typed.plus_minus > 0.0 && *typed.plus_minus < typed.value))
    throw section.bad_value(key, "its ± must be more than 0 and less than the value", remedy);
  return KnownSize{typed.value, *typed.plus_minus / coverage_factor};
}

void read_pedestal(TomlSection& section, KnownPedestal& known) {
  if (auto mass = read_known_size(section, "moving_mass", Dimension::mass, 0.1, "\"4.5 kg ± 0.5 kg\""))
    known.moving_mass_kg = mass;
  if (auto rate = read_known_size(section, "natural_frequency", Dimension::frequency, 0.05, "\"15 Hz ± 1 Hz\""))
    known.natural_frequency_Hz = rate;
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

std::optional<char> read_decimal(TomlSection& section) {
  const auto text = section.text("decimal");
  if (!text) return std::nullopt;
  if (*text == "," || *text == ".") return (*text)[0];
  throw section.bad_value("decimal", fmt::format("'{}' is not a decimal sign", *text), "write \".\" or \",\"");
}

std::vector<std::pair<std::string, std::string>> read_units(TomlSection& section) {
  std::vector<std::pair<std::string, std::string>> units;
  auto table = section.section("units");
  if (!table) return units;
  for (const std::string& column : table->keys()) {
    const std::string unit = table->need_text(column, fmt::format("{} = \"g\"", column));
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
  format.decimal = read_decimal(section);
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
  if (sensors.empty()) throw file.missing("sensor", "[[sensor]] with name, channel and sensitivity");
  return sensors;
}

Rig rig_of(const toml::table& table, const fs::path& path) {
  TomlSection file(table, path.string(), "");
  Rig rig;
  TomlSection section = file.need_section("rig", "[rig] with name, rotation and viewing_end");
  rig.name = section.need_text("name", "name = \"bay 2\"");
  rig.rotation = read_turning(section, "rotation");
  rig.viewing_end = read_viewing_end(section);
  rig.sample_rate_Hz = section.size("sample_rate", Dimension::frequency);
  section.finish();
  rig.tach = read_tach(file.need_section("tach", "[tach] with channel = 3"), path.parent_path());
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
