#include "files/key_lists.hpp"

namespace counterspot {

const FileAbout about_shaft = {"shaft-file", "shaft.toml",
                               "a shaft: its mass, speed and limit, where it is held and where weights go",
                               R"([shaft]
id = "PS-1042"
mass = "14.6 kg"
service_speed = "3200 rpm"
grade = "G16"
[supports]
A = "0 mm"
B = "1500 mm"
[[plane]]
name = "A"
position = "70 mm"
radius = "39 mm"
[[plane]]
name = "B"
position = "1430 mm"
radius = "39 mm"
)"};

namespace {

std::vector<FileKey> where_keys() {
  using enum Form;
  return {
      key("supports", {table}, absent("no limit for each plane, no beam"),
          "Where the shaft is held, along its axis from any one origin."),
      key("supports.A", {quantity, Dimension::length}, needed, "The support at end A.", "0 mm"),
      key("supports.B", {quantity, Dimension::length}, needed, "The support at end B.", "1500 mm"),
      key("supports.center_of_mass", {quantity, Dimension::length}, absent("the middle between A and B"),
          "The centre of mass: it shares the limit between the supports.", "740 mm"),
      key("supports.C", {quantity, Dimension::length}, absent("none"),
          "A centre support between A and B: the shaft is of two pieces, joined there.", "700 mm"),
      key("plane", {tables}, needed, "A place along the shaft where weights go."),
      key("plane.name", {text}, needed, "What it is called.", "A"),
      key("plane.position", {quantity, Dimension::length}, needed, "Along the axis, from the supports' origin.",
          "70 mm"),
      key("plane.radius", {quantity, Dimension::length, more_than_0}, needed, "Where a weight's centre of mass sits.",
          "39 mm"),
      key("plane.at_most", {quantity, Dimension::mass, more_than_0}, absent("no bound"),
          "The most it may carry in all; trial weights keep to it too.", "40 g"),
  };
}

std::vector<FileKey> tube_keys() {
  using enum Form;
  return {
      key("tube", {table}, absent("no tape measures, no critical speeds from it"),
          "The tube, straight and of one wall."),
      key("tube.outside_diameter", {quantity, Dimension::length, more_than_0}, needed, "Also what the tape goes round.",
          "76.2 mm"),
      key("tube.wall", {quantity, Dimension::length, more_than_0}, needed, "Its thickness, at most half the diameter.",
          "2.1 mm"),
      key("tube.length", {quantity, Dimension::length, more_than_0}, needed, "Between the welds.", "1.42 m"),
      key("tube.material", {text}, standard("steel"), "\"steel\", \"stainless steel\" or \"aluminium\".", "steel"),
      key("joints", {table}, absent("nothing is said of order 2"),
          "The two cardan joints: what they do twice a turn, which no weight removes."),
      key("joints.angle_A", {quantity, Dimension::angle}, needed,
          "Between the shaft and what it joins at end A, 0 to 45 deg.", "4 deg"),
      key("joints.angle_B", {quantity, Dimension::angle}, needed, "The same at end B.", "4 deg"),
      key("joints.yoke_phase", {quantity, Dimension::angle}, standard("0 deg"),
          "Of the shaft's yoke at B against that at A; 0 is in line, as they should be.", "0 deg"),
  };
}

std::vector<FileKey> beam_keys() {
  using enum Form;
  return {
      key("section", {tables}, absent("the tube in the middle between the supports"),
          "A stretch of one round section, in order and without gaps: what bends."),
      key("section.begin", {quantity, Dimension::length}, needed, "Where it begins along the axis.", "70 mm"),
      key("section.end", {quantity, Dimension::length}, needed, "Where it ends, beyond where it begins.", "800 mm"),
      key("section.outside_diameter", {quantity, Dimension::length, more_than_0}, needed, "Outside.", "76.2 mm"),
      key("section.wall", {quantity, Dimension::length, more_than_0}, absent("solid"), "Its thickness.", "2.1 mm"),
      key("section.material", {text}, standard("steel"), "\"steel\", \"stainless steel\" or \"aluminium\".", "steel"),
      key("section.stiffness", {quantity, Dimension::fraction, more_than_0}, standard("100 %"),
          "Of a whole bar's, at most 100 %: less for a slip spline.", "60 %"),
      key("mass", {tables}, absent("what the shaft weighs beyond its tube, at the tube's ends"),
          "Something carried that does not stiffen: a yoke, half a joint, a flange."),
      key("mass.name", {text}, absent("nothing"), "For who reads the file.", "yoke A"),
      key("mass.position", {quantity, Dimension::length}, needed, "Along the axis.", "0 mm"),
      key("mass.mass", {quantity, Dimension::mass, more_than_0}, needed, "How heavy it is.", "1.2 kg"),
      key("support", {tables}, absent("at [supports], not giving"),
          "Where the beam is held, if otherwise than at [supports]."),
      key("support.position", {quantity, Dimension::length}, needed, "Along the axis.", "0 mm"),
      key("support.stiffness", {quantity, Dimension::stiffness, more_than_0}, absent("it does not give"),
          "Alike in all directions across the axis.", "2 kN/mm"),
      key("support.clamped", {yes_or_no}, standard("false"), "The shaft's slope is held there too.", "true"),
  };
}

std::vector<FileKey> dial_keys() {
  using enum Form;
  return {
      key("straightness", {table}, absent("nothing was read"),
          "Dial readings of the tube, turned by hand on its supports: bow, where to press, what a bow does to the "
          "balance."),
      key("straightness.limit", {quantity, Dimension::length, more_than_0}, absent("0.010 in (common practice)"),
          "The largest total indicator reading at any place.", "0.25 mm"),
      key("straightness.station", {tables}, absent("nothing was read"), "A place along the tube where the dial stood."),
      key("straightness.station.position", {quantity, Dimension::length}, needed, "Along the axis.", "700 mm"),
      key("straightness.station.readings", {tables}, absent("refused when the shaft is assessed"),
          "Readings round the tube, at three or more angles; with six, an oval tube does not pass for a bent one.",
          R"([ { angle = "0 deg", dial = "0.00 mm" }, { angle = "90 deg", dial = "0.12 mm" } ])"),
      key("straightness.station.readings.angle", {quantity, Dimension::angle}, needed,
          "Shaft angle of the spot under the dial.", "90 deg"),
      key("straightness.station.readings.dial", {quantity, Dimension::length}, needed,
          "What it shows, from any zero; the plunger pushed in counts as more.", "0.12 mm"),
  };
}

}  // namespace

std::vector<FileKey> shaft_keys() {
  using enum Form;
  std::vector<FileKey> keys = {
      key("shaft", {table}, needed, "What the shaft is."),
      key("shaft.id", {text}, needed, "What it is called in the log; shafts of one id are alike.", "PS-1042"),
      key("shaft.mass", {quantity, Dimension::mass, more_than_0}, absent("a grade gives no limit"),
          "Of the whole shaft as it turns on the rig.", "14.6 kg"),
      key("shaft.service_speed", {quantity, Dimension::speed, more_than_0}, absent("a grade gives no limit"),
          "The fastest it turns in service.", "3200 rpm"),
      key("shaft.grade", {text}, absent("limit is stated"), "Balance quality grade of ISO 21940-11; sets the limits.",
          "G16"),
      key("shaft.limit", {table}, absent("grade is stated"), "Limits in place of a grade, one for every plane.",
          R"({ A = "40 g·mm", B = "40 g·mm" })"),
      key("shaft.limit.*", {quantity, Dimension::unbalance, more_than_0}, {},
          "Permissible residual unbalance in the plane that this key names.", "40 g·mm"),
  };
  for (const auto& more : {where_keys(), tube_keys(), beam_keys(), dial_keys(), order_keys()})
    keys.insert(keys.end(), more.begin(), more.end());
  return keys;
}

std::vector<FileKey> order_keys() {
  using enum Form;
  return {
      key("order", {table}, absent("lines to write on"),
          "What the sheet says of the order; nothing is reckoned with it, and what is left out is a line to write on."),
      key("order.customer", {text}, absent("a line"), "For whom.", "Marrow Creek Irrigation"),
      key("order.number", {text}, absent("a line"), "Of the order.", "4500123"),
      key("order.part", {text}, absent("a line"), "Part number.", "MC-0417"),
      key("order.serial", {text}, absent("a line"), "Serial number.", "0417-22"),
      key("order.shop", {text}, absent("a line"), "Who balances.", "Marrow Creek Shaftworks"),
      key("order.balanced_by", {text}, absent("a line"), "Who stood at the rig.", "K. Osei"),
      key("order.inspected_by", {text}, absent("a line"), "Who inspected.", "R. Feld"),
      key("order.fixed_by", {text}, absent("a line"), "How weights are held.", "welded"),
      key("order.limits_by", {text}, absent("a line"), "Who set limits that are typed.", "drawing 4711"),
  };
}

}  // namespace counterspot
