#include "files/key_lists.hpp"

namespace counterspot {

const FileAbout about_rig = {"rig-file", "rig.toml", "the rig: which way it turns, its tach, its sensors; written once",
                             R"([rig]
name = "bay 2"
rotation = "counter-clockwise"
viewing_end = "A"
[tach]
channel = 3
[[sensor]]
name = "A"
channel = 1
sensitivity = "100 mV/g"
[[sensor]]
name = "B"
channel = 2
sensitivity = "100 mV/g"
)"};

namespace {

std::vector<FileKey> tach_keys() {
  using enum Form;
  return {
      key("tach", {table}, needed,
          "What sees the shaft turn: a pulse once a turn, an encoder, a file of times, or a signal that is the speed."),
      key("tach.channel", {channel}, absent("times or speed_channel is stated"),
          "Where the pulses are; of an encoder, where its A is.", "3"),
      key("tach.times", {text}, absent("channel or speed_channel is stated"),
          "In place of a channel: a file with the times of the pulses in seconds, CSV or array.", "edges.csv"),
      key("tach.mark", {text}, absent("all rows count"),
          "Of a file of times: only rows whose column 'mark' says this are pulses.", "once"),
      key("tach.pulses_per_revolution", {.form = whole, .range = {1, 100000}}, standard("1"),
          "Pulses in one turn, at most 1000 without an index channel. Of a wheel with teeth left out: the teeth it "
          "has, or the places there are.",
          "1"),
      key("tach.edge", {.form = choice, .choices = {"rising", "falling"}}, standard("rising"),
          "Which edge of the pulse is the mark.", "rising"),
      key("tach.level", {level, Dimension::voltage}, absent("found from the signal"),
          "Where the signal is between the pulses and in them, for difficult ones; without a unit in the column's own.",
          "2 V"),
      key("tach.hysteresis", {level, Dimension::voltage, not_negative}, absent("found from the signal"),
          "How far the signal must come back before it counts again, its full width.", "0.5 V"),
      key("tach.full_scale", {quantity, Dimension::voltage, more_than_0}, absent("1 V"),
          "What 1.0 of an audio file means at the converter; not used for tables.", "10 V"),
      key("tach.second_channel", {channel}, absent("no encoder"), "B of an encoder, which with A tells the direction.",
          "4"),
      key("tach.a_leads", {.form = choice, .choices = {"clockwise", "counter-clockwise"}},
          absent("refused beside second_channel"),
          "How the shaft turns, seen from the viewing end, when the encoder's A comes before B.", "clockwise"),
      key("tach.index_channel", {channel}, absent("no index"), "The encoder's index, once a turn: it is the mark then.",
          "5"),
      key("tach.speed_channel", {channel}, absent("a tach is stated"),
          "In place of a tach: a signal that is the speed. There is no phase then.", "3"),
      key("tach.speed_scale", {quantity, Dimension::speed, more_than_0}, absent("the column's own unit"),
          "What 1 V of the speed signal means, or 1 of a column without a unit.", "1000 rpm"),
  };
}

std::vector<FileKey> sensor_keys() {
  using enum Form;
  return {
      key("sensor", {tables}, needed, "A sensor of vibration, one at each pedestal."),
      key("sensor.name", {text}, needed, "What it is called: the end of the rig it sits at.", "A"),
      key("sensor.channel", {channel}, needed, "Where it is in the recording.", "1"),
      key("sensor.sensitivity", {sensitivity}, needed,
          "Of its certificate, and with it what it measures: acceleration, velocity or displacement. Where nobody has "
          "one, \"unknown\": levels are in volts then, and correction and verdict do not depend on it. With a "
          "minus sign the sensor is turned over.",
          "100 mV/g"),
      key("sensor.full_scale", {quantity, Dimension::voltage, more_than_0}, standard("1 V"),
          "What 1.0 of an audio file means at the converter; not used for tables.", "10 V"),
      key("sensor.ac_coupling", {quantity, Dimension::frequency, more_than_0}, absent("none"),
          "Corner of a capacitor between sensor and converter; amplitude and phase are corrected for it.", "0.5 Hz"),
      key("sensor.ac_coupling_uncertainty", {quantity, Dimension::fraction, not_negative}, standard("10 %"),
          "Of that corner, one standard deviation.", "5 %"),
      key("sensor.mounting_uncertainty", {quantity, Dimension::angle, not_negative}, standard("0 deg"),
          "Of the direction it looks in, about the shaft, one standard deviation.", "1 deg"),
  };
}

std::vector<FileKey> recording_keys() {
  using enum Form;
  return {
      key("recording", {table}, absent("found out from each recording"),
          "How recordings are written, where they do not tell or tell it wrong; `inspect` shows what is taken for "
          "what."),
      key("recording.separator", {text}, absent("found out"),
          "Between the cells of a table: \",\", \";\", \"tab\" or \"blank\".", "blank"),
      key("recording.decimal", {.form = choice, .choices = {".", ","}}, absent("found out"), "The decimal sign.", ","),
      key("recording.encoding", {text}, absent("found out"),
          "Of the text: \"Latin-1\", \"UTF-8\", \"UTF-16\", any name of iconv.", "Latin-1"),
      key("recording.first_row", {whole}, absent("found out"),
          "No row of numbers stands above this line, counted from 1.", "5"),
      key("recording.time", {text}, absent("found out"),
          "The column of times; \"none\" goes with sample_rate under [rig].", "span"),
      key("recording.time_unit", {text}, absent("as its name says, else s"), "Of that column.", "ms"),
      key("recording.units", {table}, absent("as the columns' names say, else volts"), "Of columns, by their names.",
          R"({ left = "g", tach = "V" })"),
      key("recording.units.*", {text}, {}, "The unit of the column that this key names: of motion or of voltage.", "g"),
  };
}

std::vector<FileKey> claim_keys() {
  using enum Form;
  return {
      key("setting", {table}, absent("as stated below"),
          "How well things are set, one standard deviation of each; it is part of every ±."),
      key("setting.mass", {quantity, Dimension::fraction, not_negative}, standard("1 %"), "Of a weight's mass.", "1 %"),
      key("setting.angle", {quantity, Dimension::angle, not_negative}, standard("1 deg"), "Of where a weight is put.",
          "1 deg"),
      key("setting.turned", {quantity, Dimension::angle, not_negative}, standard("0.5 deg"),
          "Of how far a shaft is turned against its adapters.", "0.5 deg"),
      key("setting.repeat", {quantity, Dimension::fraction, not_negative}, standard("0.5 %"),
          "How far a reading changes from spin to spin with nothing changed, until the log or the spins show how this "
          "rig repeats.",
          "0.5 %"),
      key("qualification", {table}, absent("the rig cannot be qualified"),
          "What the rig is to reach: `rig qualify` proves it."),
      key("qualification.smallest_residual", {quantity, Dimension::unbalance, more_than_0}, needed,
          "Smallest achievable residual unbalance, Umar, in each plane.", "80 g·mm"),
      key("qualification.reduction", {quantity, Dimension::fraction, a_part}, standard("95 %"),
          "Unbalance reduction ratio.", "95 %"),
      key("qualification.sensor_change", {quantity, Dimension::fraction, a_part}, standard("10 %"),
          "How far a sensor may have changed since the last record.", "10 %"),
      key("qualification.cross_talk", {quantity, Dimension::fraction, a_part}, standard("5 %"),
          "How far one sensor's share in the other may have changed.", "5 %"),
      key("qualification.speed_effect", {quantity, Dimension::fraction, a_part}, standard("10 %"),
          "How far a test mass may read otherwise at 10 % less and more speed, beyond what speed itself does.", "10 %"),
      key("qualification.adapters", {quantity, Dimension::unbalance, more_than_0},
          absent("five times smallest_residual"), "What the adapters may be out of balance by.", "400 g·mm"),
      key("qualification.every", {quantity, Dimension::time, more_than_0}, standard("365 d"),
          "From one qualification to the next; then it is said to be due.", "365 d"),
  };
}

std::vector<FileKey> pedestal_keys() {
  using enum Form;
  return {
      key("pedestal", {table}, absent("learnt from the rig's jobs"), "What is known of the pedestals, of both alike."),
      key("pedestal.moving_mass", {known_size, Dimension::mass, more_than_0}, absent("learnt"),
          "What moves along with the shaft's support; without ± it is taken as ± 20 %.", "4.5 kg ± 0.5 kg"),
      key("pedestal.natural_frequency", {known_size, Dimension::frequency, more_than_0}, absent("learnt"),
          "With no shaft on it, as a tap shows; without ± it is taken as ± 10 %.", "15 Hz ± 1 Hz"),
      key("pedestal.*", {.form = table, .choices = {"A", "B"}}, absent("as of both"),
          "What is known of one pedestal only."),
      key("pedestal.*.moving_mass", {known_size, Dimension::mass, more_than_0}, absent("as of both"),
          "Of this pedestal.", "4.5 kg ± 0.5 kg"),
      key("pedestal.*.natural_frequency", {known_size, Dimension::frequency, more_than_0}, absent("as of both"),
          "Of this pedestal.", "15 Hz ± 1 Hz"),
  };
}

}  // namespace

std::vector<FileKey> rig_keys() {
  using enum Form;
  std::vector<FileKey> keys = {
      key("rig", {table}, needed, "The rig itself."),
      key("rig.name", {text}, needed, "What it is called, in the log and on sheets.", "bay 2"),
      key("rig.rotation", {.form = choice, .choices = {"clockwise", "counter-clockwise"}}, needed,
          "Which way the shaft turns, seen from the viewing end. Angles count against it.", "counter-clockwise"),
      key("rig.viewing_end", {.form = choice, .choices = {"A", "B"}}, needed,
          "The end where the operator stands to read the clock.", "A"),
      key("rig.sample_rate", {quantity, Dimension::frequency, more_than_0}, absent("the recording tells it"),
          "Of tables without a column of times.", "51.2 kHz"),
  };
  for (const auto& more : {tach_keys(), sensor_keys(), recording_keys(), claim_keys(), pedestal_keys()})
    keys.insert(keys.end(), more.begin(), more.end());
  return keys;
}

}  // namespace counterspot
