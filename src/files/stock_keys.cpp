#include "files/key_lists.hpp"

namespace counterspot {

const FileAbout about_stock = {"stock-file", "stock.toml",
                               "the pieces there are to fit, and where on the shaft they may go",
                               R"([[piece]]
name = "washer M8"
mass = "5.6 g"
[[plane]]
name = "A"
forbidden = [ { from = "352 deg", to = "8 deg", why = "weld seam" } ]
)"};

namespace {

constexpr std::string_view counted = "How many there are.";
constexpr std::string_view outwards = "Where its centre of mass sits against the plane's radius, outwards.";

std::vector<FileKey> welded_keys() {
  using enum Form;
  return {
      key("stock", {table}, absent("nothing"), "What holds for all of it."),
      key("stock.name", {text}, absent("nothing"), "What it is called.", "Marrow Creek, bay 2"),
      key("stock.bead", {bead}, absent("nothing is added"),
          "What welding adds to each piece: weigh a few before and after.", "4 %"),
      key("piece", {tables}, absent("strip, clamp, grind or drill is stated"),
          "A ready piece to weld on: a washer, a plate."),
      key("piece.name", {text}, needed, "What it is called when it is asked for.", "washer M8"),
      key("piece.mass", {quantity, Dimension::mass, more_than_0}, absent("masses is stated"), "Of one.", "5.6 g"),
      key("piece.masses", {quantities, Dimension::mass, more_than_0}, absent("mass is stated"),
          "Of a set, the masses to choose from.", R"(["10 g", "15 g", "20 g"])"),
      key("piece.count", {.form = whole, .range = {0, endless}}, absent("as many as wanted"), counted, "40"),
      key("piece.radius_offset", {quantity, Dimension::length}, standard("0 mm"), outwards, "2 mm"),
      key("piece.bead", {bead}, absent("as of all"), "What welding adds to this kind.", "0.6 g"),
      key("strip", {tables}, absent("none"), "A strip to cut pieces from and weld on."),
      key("strip.name", {text}, needed, "What it is called when it is asked for.", "strip 12 x 3 mm"),
      key("strip.linear_mass", {quantity, Dimension::linear_mass, more_than_0}, needed, "Mass of its length.",
          "0.283 g/mm"),
      key("strip.shortest", {quantity, Dimension::length, more_than_0}, needed, "The shortest piece worth cutting.",
          "15 mm"),
      key("strip.longest", {quantity, Dimension::length, more_than_0}, needed, "The longest that sits well.", "90 mm"),
      key("strip.step", {quantity, Dimension::length, more_than_0}, needed, "How finely lengths are cut.", "5 mm"),
      key("strip.count", {.form = whole, .range = {0, endless}}, absent("as many as wanted"), counted, "10"),
      key("strip.radius_offset", {quantity, Dimension::length}, standard("0 mm"), outwards, "2 mm"),
      key("strip.bead", {bead}, absent("as of all"), "What welding adds to this kind.", "0.6 g"),
  };
}

std::vector<FileKey> clamp_keys() {
  using enum Form;
  return {
      key("clamp", {tables}, absent("none"),
          "A clamp round the tube with a lump that acts; two are slid against each other."),
      key("clamp.name", {text}, needed, "What it is called when it is asked for.", "hose clamp 60-80"),
      key("clamp.lump", {quantity, Dimension::mass, more_than_0}, absent("lumps is stated"),
          "What acts: the screw, beyond the even band.", "8.5 g"),
      key("clamp.lumps", {quantities, Dimension::mass, more_than_0}, absent("lump is stated"),
          "The lumps to choose from, as with nuts on the screw.", R"(["8.5 g", "12.5 g", "18.0 g"])"),
      key("clamp.band", {quantity, Dimension::mass, more_than_0}, absent("nothing"),
          "What goes round evenly and does not act, but shows on the scale.", "24 g"),
      key("clamp.holds", {quantity, Dimension::force, more_than_0}, absent("not known"),
          "The pull it is stated to hold; heavier lumps are not asked for at a speed where they would pull more.",
          "250 N"),
      key("clamp.count", {.form = whole, .range = {0, endless}}, absent("as many as wanted"), counted, "4"),
      key("clamp.radius_offset", {quantity, Dimension::length}, standard("0 mm"), outwards, "6 mm"),
  };
}

std::vector<FileKey> removed_keys() {
  using enum Form;
  return {
      key("grind", {tables}, absent("none"), "Metal that may be ground off."),
      key("grind.name", {text}, needed, "What it is called when it is asked for.", "disc grinder"),
      key("grind.most", {quantity, Dimension::mass, more_than_0}, needed, "The most that may be taken at one place.",
          "6 g"),
      key("grind.step", {quantity, Dimension::mass, more_than_0}, needed, "How finely it is taken.", "0.5 g"),
      key("grind.count", {.form = whole, .range = {0, endless}}, absent("as many as wanted"), "How many places.", "3"),
      key("grind.radius_offset", {quantity, Dimension::length}, standard("0 mm"), outwards, "-1 mm"),
      key("drill", {tables}, absent("none"), "Holes that may be drilled."),
      key("drill.name", {text}, needed, "What it is called when it is asked for.", "drill 8 mm"),
      key("drill.diameter", {quantity, Dimension::length, more_than_0}, needed,
          "Of the drill, which has a point of 118 deg.", "8 mm"),
      key("drill.deepest", {quantity, Dimension::length, more_than_0}, needed, "At full diameter.", "10 mm"),
      key("drill.step", {quantity, Dimension::length, more_than_0}, needed, "How finely depths are drilled.", "1 mm"),
      key("drill.density", {quantity, Dimension::density, more_than_0}, absent("that of steel"), "Of what is drilled.",
          "7850 kg/m3"),
      key("drill.count", {.form = whole, .range = {0, endless}}, absent("as many as wanted"), "How many holes.", "4"),
      key("drill.radius_offset", {quantity, Dimension::length}, standard("0 mm"), outwards, "-4 mm"),
  };
}

std::vector<FileKey> rule_keys() {
  using enum Form;
  return {
      key("plane", {tables}, absent("anywhere, two pieces"), "Where weights may go at a plane of the shaft."),
      key("plane.name", {text}, needed, "Which plane.", "A"),
      key("plane.equal_positions", {.form = whole, .range = {1, 720}}, absent("anywhere"),
          "So many places round the shaft and no other, such as bolt holes.", "8"),
      key("plane.first", {quantity, Dimension::angle}, absent("0 deg"), "Shaft angle of the first of them.",
          "22.5 deg"),
      key("plane.positions", {quantities, Dimension::angle}, absent("anywhere"), "Or the places one by one.",
          R"(["0 deg", "90 deg", "200 deg"])"),
      key("plane.forbidden", {tables}, absent("none"), "An arc where the middle of no weight may lie.",
          R"([ { from = "352 deg", to = "8 deg", why = "weld seam of the tube" } ])"),
      key("plane.forbidden.from", {quantity, Dimension::angle}, needed,
          "Where it begins; it goes against the rotation.", "352 deg"),
      key("plane.forbidden.to", {quantity, Dimension::angle}, needed, "Where it ends.", "8 deg"),
      key("plane.forbidden.why", {text}, needed, "What is there.", "weld seam of the tube"),
      key("plane.smallest_gap", {quantity, Dimension::length, more_than_0}, absent("none"),
          "Between the middles of neighbours, along the surface.", "14 mm"),
      key("plane.most_pieces", {.form = whole, .range = {0, 6}}, standard("2"),
          "On the plane, with what is there already.", "3"),
      key("plane.most_mass", {quantity, Dimension::mass, more_than_0}, absent("no bound"),
          "The same, of the weighed masses together.", "90 g"),
      key("plane.closed", {yes_or_no}, standard("false"), "Nothing may be fitted or moved here.", "true"),
  };
}

}  // namespace

std::vector<FileKey> stock_keys() {
  using enum Form;
  std::vector<FileKey> keys;
  for (const auto& more : {welded_keys(), clamp_keys(), removed_keys(), rule_keys()})
    keys.insert(keys.end(), more.begin(), more.end());
  return keys;
}

}  // namespace counterspot
