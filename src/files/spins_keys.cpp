#include "files/key_lists.hpp"

namespace counterspot {

const FileAbout about_spins = {"spins-file", "spins.toml",
                               "the spins of a shaft in the order they were made, with what was on it",
                               R"(rig = "rig.toml"
shaft = "shaft.toml"
[[spin]]
label = "as found"
recording = "00-as-found.flac"
[[spin]]
label = "trial at A"
recording = "01-trial-a.flac"
fitted = [ { plane = "A", mass = "15 g", angle = "0 deg" } ]
[[spin]]
label = "trial at B"
recording = "02-trial-b.flac"
fitted = [ { plane = "B", mass = "15 g", angle = "0 deg" } ]
)"};

std::vector<FileKey> spins_keys() {
  using enum Form;
  std::vector<FileKey> keys = {
      key("rig", {text}, needed, "The rig's file, as seen from this file.", "rig.toml"),
      key("shaft", {text}, needed, "The shaft's file, as seen from this file.", "shaft.toml"),
      key("spin", {tables}, needed, "One spin; the last says what is on the shaft now."),
      key("spin.label", {text}, needed, "What it is called in every message.", "as found"),
      key("spin.recording", {text}, absent("vector or amplitude is stated"),
          "Its recording, as seen from this file; \"-\" is standard input.", "00-as-found.flac"),
      key("spin.vector", {table}, absent("recording is stated"),
          "Readings typed in place of a recording, one for each sensor.",
          R"({ A = "6.0 mm/s @ 35 deg ± 0.1 mm/s", B = "10.5 mm/s @ 160 deg ± 0.1 mm/s" })"),
      key("spin.vector.*", {vector}, {}, "Of the sensor that this key names: peak, phase lag, and a ± that holds 95 %.",
          "6.0 mm/s @ 35 deg ± 0.1 mm/s"),
      key("spin.amplitude", {table}, absent("recording is stated"),
          "For `solve --no-phase`, where there is no tach: amplitudes alone, one for each sensor.",
          R"({ A = "6.0 mm/s ± 0.1 mm/s", B = "10.5 mm/s ± 0.1 mm/s" })"),
      key("spin.amplitude.*", {amplitude}, {}, "Of the sensor that this key names; without ± 2 % are taken.",
          "6.0 mm/s ± 0.1 mm/s"),
      key("spin.speed", {quantity, Dimension::speed, more_than_0}, absent("not known"),
          "Of typed readings; with `solve --no-phase` also of a recording whose spectrum would not tell it.",
          "1620 rpm"),
      key("spin.turned", {quantity, Dimension::angle}, absent("not turned"),
          "Index balancing: how far the shaft's mark was turned from the adapters' mark, against the rotation. Spins "
          "at two such angles tell the adapters from the shaft.",
          "180 deg"),
      key("spin.fitted", {tables}, absent("nothing is on"),
          "Each weight on the shaft that was not there as found: all of them, in every spin.",
          R"([ { plane = "A", mass = "15 g", angle = "0 deg" } ])"),
      key("spin.fitted.plane", {text}, needed, "Which plane of the shaft it is at.", "A"),
      key("spin.fitted.mass", {quantity, Dimension::mass}, needed, "As the scale shows it; metal removed is negative.",
          "15 g"),
      key("spin.fitted.angle", {place, Dimension::angle}, absent("arc or clock is stated"),
          "From the mark, against the rotation.", "0 deg"),
      key("spin.fitted.arc", {text}, absent("angle or clock is stated"),
          "By tape along the tube from the mark: \"… against rotation\" or \"… with rotation\".",
          "37 mm against rotation"),
      key("spin.fitted.clock", {text}, absent("angle or arc is stated"),
          "On the clock at the viewing end, the mark at 12:00.", "4:37"),
      key("spin.fitted.radius", {quantity, Dimension::length, more_than_0}, absent("the plane's radius"),
          "Where its centre of mass sits.", "41 mm"),
  };
  const std::vector<FileKey> order = order_keys();
  keys.insert(keys.end(), order.begin(), order.end());
  return keys;
}

}  // namespace counterspot
