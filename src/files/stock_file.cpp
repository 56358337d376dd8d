#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/placement/stock.hpp"
#include "counterspot/shaft/beam.hpp"
#include "files/toml_section.hpp"

namespace counterspot {

namespace {

constexpr int most_sizes = 1000;  // of one kind: a step so fine is a slip of the pen

/// Begin, begin + step, … as far as `most`, which is taken in if a step ends there.
std::vector<double> steps(TomlSection& section, double least, double most, double step) {
  if (most < least)
    throw section.bad_value("step", "there is no size between the smallest and the largest", "check the sizes");
  const double count = std::floor((most - least) / step + 1e-9);
  if (count >= most_sizes) throw section.bad_value("step", "gives more than a thousand sizes", "state a coarser step");
  std::vector<double> sizes;
  for (int i = 0; i <= static_cast<int>(count); ++i) sizes.push_back(least + i * step);
  return sizes;
}

/// What is taken off step by step: one step, two steps, … as far as it may go.
std::vector<double> steps_up_to(TomlSection& section, std::string_view most_key) {
  const double most = section.need_quantity(most_key);
  const double step = section.need_quantity("step");
  return steps(section, step, most, step);
}

/// "4 %" of the piece, or "0.6 g".
Bead read_bead(TomlSection& section, const Bead& usual) {
  const auto text = section.text("bead");
  if (!text) return usual;
  const bool share = text->find('%') != std::string::npos;
  const double adds =
      section.located("bead", [&] { return parse_quantity(*text, share ? Dimension::fraction : Dimension::mass); });
  if (adds < 0.0) throw section.bad_value("bead", "is less than nothing", "a bead adds");
  Bead bead;
  (share ? bead.fraction : bead.mass_kg) = adds;
  return bead;
}

StockKind read_common(TomlSection& section, Way way) {
  StockKind kind;
  kind.name = section.need_text("name");
  kind.way = way;
  kind.count = section.whole_number("count");
  kind.radius_offset_m = section.need_quantity("radius_offset");
  return kind;
}

std::vector<double> read_masses(TomlSection& section, std::string_view one, std::string_view many) {
  std::vector<double> masses = section.quantities(many);
  if (const auto mass = section.quantity(one)) masses.push_back(*mass);
  if (masses.empty()) throw section.missing(one);
  std::sort(masses.begin(), masses.end());
  return masses;
}

StockKind read_welded(TomlSection& section, const Bead& bead) {
  StockKind kind = read_common(section, Way::weld);
  kind.bead = read_bead(section, bead);
  return kind;
}

StockKind read_piece(TomlSection& section, const Bead& bead) {
  StockKind kind = read_welded(section, bead);
  kind.masses_kg = read_masses(section, "mass", "masses");
  section.finish();
  return kind;
}

StockKind read_strip(TomlSection& section, const Bead& bead) {
  StockKind kind = read_welded(section, bead);
  kind.linear_mass_kg_m = section.need_quantity("linear_mass");
  const double shortest = section.need_quantity("shortest");
  const double longest = section.need_quantity("longest");
  kind.lengths_m = steps(section, shortest, longest, section.need_quantity("step"));
  section.finish();
  return kind;
}

StockKind read_clamp(TomlSection& section) {
  StockKind kind = read_common(section, Way::clamp);
  kind.masses_kg = read_masses(section, "lump", "lumps");
  kind.band_kg = section.quantity("band").value_or(0.0);
  kind.holds_N = section.quantity("holds");
  section.finish();
  return kind;
}

StockKind read_grind(TomlSection& section) {
  StockKind kind = read_common(section, Way::grind);
  kind.masses_kg = steps_up_to(section, "most");
  section.finish();
  return kind;
}

StockKind read_drill(TomlSection& section) {
  StockKind kind = read_common(section, Way::drill);
  const double diameter = section.need_quantity("diameter");
  const double density = section.quantity("density").value_or(material_named("steel").density_kg_m3);
  kind.linear_mass_kg_m = density * pi / 4.0 * diameter * diameter;
  kind.tip_kg = drill_tip_kg(diameter, density);
  kind.lengths_m = steps_up_to(section, "deepest");
  section.finish();
  return kind;
}

std::vector<double> read_positions(TomlSection& section) {
  std::vector<double> positions;
  const auto count = section.whole_number("equal_positions");
  const auto first = section.quantity("first");
  const auto listed = section.quantities("positions");
  if (count && !listed.empty())
    throw section.bad_value("positions", "equal_positions are stated too", "keep one of the two");
  if (first && !count) throw section.bad_value("first", "there are no equal_positions", "state how many there are");
  for (int i = 0; i < count.value_or(0); ++i) positions.push_back(first.value_or(0.0) + turn_rad * i / *count);
  positions.insert(positions.end(), listed.begin(), listed.end());
  return positions;
}

PlaneRules read_rules(TomlSection& section) {
  PlaneRules rules;
  rules.positions_rad = read_positions(section);
  for (TomlSection& arc : section.sections("forbidden")) {
    rules.forbidden.push_back({arc.need_quantity("from"), arc.need_quantity("to"), arc.need_text("why")});
    arc.finish();
  }
  rules.smallest_gap_m = section.quantity("smallest_gap").value_or(0.0);
  rules.most_pieces = section.need_whole_number("most_pieces");
  rules.most_mass_kg = section.quantity("most_mass").value_or(rules.most_mass_kg);
  rules.closed = section.need_yes_or_no("closed");
  section.finish();
  return rules;
}

void read_planes(TomlSection& file, const Shaft* shaft, Stock& stock) {
  for (TomlSection& section : file.sections("plane")) {
    const std::string name = section.need_text("name");
    auto is_named = [&](const Plane& plane) { return plane.name == name; };
    if (shaft != nullptr && std::none_of(shaft->planes.begin(), shaft->planes.end(), is_named))
      throw section.refused("name", "no_such_plane", fmt::format("the shaft has no plane '{}'", name),
                            "name a plane of the shaft's file");
    if (!stock.rules.emplace(name, read_rules(section)).second)
      throw section.bad_value("name", fmt::format("plane '{}' is stated twice", name), "put its rules together");
  }
}

}  // namespace

namespace {

Stock stock_of(const toml::table& table, const std::filesystem::path& path, const Shaft* shaft) {
  TomlSection file(table, path.string(), FileKind::stock);
  Stock stock;
  Bead bead;
  if (auto section = file.section("stock")) {
    stock.name = section->text("name").value_or("");
    bead = read_bead(*section, bead);
    section->finish();
  }
  for (TomlSection& section : file.sections("piece")) stock.kinds.push_back(read_piece(section, bead));
  for (TomlSection& section : file.sections("strip")) stock.kinds.push_back(read_strip(section, bead));
  for (TomlSection& section : file.sections("clamp")) stock.kinds.push_back(read_clamp(section));
  for (TomlSection& section : file.sections("grind")) stock.kinds.push_back(read_grind(section));
  for (TomlSection& section : file.sections("drill")) stock.kinds.push_back(read_drill(section));
  read_planes(file, shaft, stock);
  file.finish();
  if (stock.kinds.empty()) throw file.missing("piece");
  return stock;
}

}  // namespace

Stock read_stock(const std::filesystem::path& path, const Shaft& shaft) {
  return stock_of(parse_toml(path), path, &shaft);
}

Stock read_stock_text(const std::string& text, const std::filesystem::path& path) {
  return stock_of(parse_toml(text, path), path, nullptr);
}

}  // namespace counterspot
