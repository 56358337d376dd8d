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
      {.path = "rig",
       .form = text,
       .needed = true,
       .example = "rig.toml",
       .effect = "The rig's file, as seen from this file."},
      {.path = "shaft",
       .form = text,
       .needed = true,
       .example = "shaft.toml",
       .effect = "The shaft's file, as seen from this file."},
      {.path = "spin", .form = tables, .needed = true, .effect = "One spin; the last says what is on the shaft now."},
      {.path = "spin.label",
       .form = text,
       .needed = true,
       .example = "as found",
       .effect = "What it is called in every message."},
      {.path = "spin.recording",
       .form = text,
       .absent = "vector or amplitude is stated",
       .example = "00-as-found.flac",
       .effect = "Its recording, as seen from this file; \"-\" is standard input."},
      {.path = "spin.vector",
       .form = table,
       .absent = "recording is stated",
       .example = R"({ A = "6.0 mm/s @ 35 deg ± 0.1 mm/s", B = "10.5 mm/s @ 160 deg ± 0.1 mm/s" })",
       .effect = "Readings typed in place of a recording, one for each sensor."},
      {.path = "spin.vector.*",
       .form = vector,
       .example = "6.0 mm/s @ 35 deg ± 0.1 mm/s",
       .effect = "Of the sensor that this key names: peak, phase lag, and a ± that holds 95 %."},
      {.path = "spin.amplitude",
       .form = table,
       .absent = "recording is stated",
       .example = R"({ A = "6.0 mm/s ± 0.1 mm/s", B = "10.5 mm/s ± 0.1 mm/s" })",
       .effect = "For `solve --no-phase`, where there is no tach: amplitudes alone, one for each sensor."},
      {.path = "spin.amplitude.*",
       .form = amplitude,
       .example = "6.0 mm/s ± 0.1 mm/s",
       .effect = "Of the sensor that this key names; without ± 2 % are taken."},
      {.path = "spin.speed",
       .form = quantity,
       .dimension = Dimension::speed,
       .range = more_than_0,
       .absent = "not known",
       .example = "1620 rpm",
       .effect = "Of typed readings; with `solve --no-phase` also of a recording whose spectrum would not tell it."},
      {.path = "spin.turned",
       .form = quantity,
       .dimension = Dimension::angle,
       .absent = "not turned",
       .example = "180 deg",
       .effect = "Index balancing: how far the shaft's mark was turned from the adapters' mark, against the rotation. "
                 "Spins at two such angles tell the adapters from the shaft."},
      {.path = "spin.fitted",
       .form = tables,
       .absent = "nothing is on",
       .example = R"([ { plane = "A", mass = "15 g", angle = "0 deg" } ])",
       .effect = "Each weight on the shaft that was not there as found: all of them, in every spin."},
      {.path = "spin.fitted.plane",
       .form = text,
       .needed = true,
       .example = "A",
       .effect = "Which plane of the shaft it is at."},
      {.path = "spin.fitted.mass",
       .form = quantity,
       .dimension = Dimension::mass,
       .needed = true,
       .example = "15 g",
       .effect = "As the scale shows it; metal removed is negative."},
      {.path = "spin.fitted.angle",
       .form = place,
       .dimension = Dimension::angle,
       .absent = "arc or clock is stated",
       .example = "0 deg",
       .effect = "From the mark, against the rotation."},
      {.path = "spin.fitted.arc",
       .form = text,
       .absent = "angle or clock is stated",
       .example = "37 mm against rotation",
       .effect = "By tape along the tube from the mark: \"… against rotation\" or \"… with rotation\"."},
      {.path = "spin.fitted.clock",
       .form = text,
       .absent = "angle or arc is stated",
       .example = "4:37",
       .effect = "On the clock at the viewing end, the mark at 12:00."},
      {.path = "spin.fitted.radius",
       .form = quantity,
       .dimension = Dimension::length,
       .range = more_than_0,
       .absent = "the plane's radius",
       .example = "41 mm",
       .effect = "Where its centre of mass sits."},
  };
  const std::vector<FileKey> order = order_keys();
  keys.insert(keys.end(), order.begin(), order.end());
  return keys;
}

}  // namespace counterspot
