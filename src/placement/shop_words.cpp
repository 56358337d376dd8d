#include "counterspot/placement/shop_words.hpp"

#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <numeric>

#include "counterspot/units/error.hpp"
#include "counterspot/units/units.hpp"
#include "units/text.hpp"

namespace counterspot {

namespace {

// Of a number up to `end`; empty if there is anything else in it.
std::optional<int> whole(std::string_view text) {
  int value = 0;
  const auto [end, trouble] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (trouble != std::errc() || end != text.data() + text.size() || text.empty()) return std::nullopt;
  return value;
}

bool cut_end(std::string_view& text, std::string_view end) {
  if (!text.ends_with(end)) return false;
  text = trimmed(text.substr(0, text.size() - end.size()));
  return true;
}

// "1 7/16" or "7/16", as tapes are read.
std::optional<double> fraction_number(std::string_view text) {
  const auto slash = text.find('/');
  if (slash == std::string_view::npos) return std::nullopt;
  const auto space = text.rfind(' ', slash);
  const bool has_whole = space != std::string_view::npos;
  const auto inches = has_whole ? whole(trimmed(text.substr(0, space))) : std::optional(0);
  const std::size_t begin = has_whole ? space + 1 : 0;
  const auto above = whole(text.substr(begin, slash - begin));
  const auto below = whole(trimmed(text.substr(slash + 1)));
  if (!inches || !above || !below || *inches < 0 || *above < 0 || *below <= 0) return std::nullopt;
  return *inches + static_cast<double>(*above) / *below;
}

double tape_length_m(std::string_view text) {
  std::string_view number = text;
  if (cut_end(number, "in") || cut_end(number, "\""))
    if (const auto inches = fraction_number(number)) return *inches * m_per_in;
  return parse_quantity(text, Dimension::length);
}

template <typename... Parts>
std::string filled(const char* text, const Parts&... parts) {
  return fmt::format(fmt::runtime(text), parts...);
}

}  // namespace

std::string inches_text(double length_m) {
  const auto sixteenths = std::lround(length_m / m_per_in * 16.0);
  const long inches = sixteenths / 16;
  const long rest = sixteenths % 16;
  if (rest == 0) return fmt::format("{} in", inches);
  const long common = std::gcd(rest, 16L);
  const std::string fraction = fmt::format("{}/{}", rest / common, 16 / common);
  return inches == 0 ? fraction + " in" : fmt::format("{} {} in", inches, fraction);
}

std::string tape_text(double length_m, UnitSystem units) {
  return units == UnitSystem::inch ? inches_text(length_m) : fmt::format("{} mm", std::lround(length_m * 1e3));
}

std::string mass_text(double mass_kg, UnitSystem units) {
  return units == UnitSystem::inch ? fmt::format("{:.3f} oz", mass_kg / kg_per_oz)
                                   : fmt::format("{:.1f} g", mass_kg * 1e3);
}

std::string force_text(double force_N, UnitSystem units) {
  const double lbf = force_N / newtons_per_lbf;
  return units == UnitSystem::inch ? fmt::format("{:.1f} lbf ({:.0f} N)", lbf, force_N)
                                   : fmt::format("{:.0f} N ({:.1f} lbf)", force_N, lbf);
}

Spot spot_at(double angle_rad, Rotation rotation_at_end, std::optional<double> outside_diameter_m) {
  Spot spot{wrap_positive(angle_rad), clock_position(angle_rad, rotation_at_end), std::nullopt};
  if (outside_diameter_m) spot.arc = arc_length(angle_rad, *outside_diameter_m);
  return spot;
}

std::string work_text(const Stock& stock, const Piece& piece, UnitSystem units, const WorkWords& words) {
  const StockKind& kind = stock.kinds[static_cast<std::size_t>(piece.kind)];
  const std::string weight = mass_text(piece.weighed_kg, units);
  const std::string length = tape_text(piece.length_m, units);
  const double bead_kg = piece.acting_kg - piece.weighed_kg;
  const std::string bead = bead_kg > 0.0 ? filled(words.bead, mass_text(bead_kg, units)) : "";
  switch (kind.way) {
    case Way::weld:
      return piece.length_m > 0.0 ? filled(words.cut, length, kind.name, weight, bead)
                                  : filled(words.weld, kind.name, weight, bead);
    case Way::clamp: return filled(words.clamp, kind.name, mass_text(piece.acting_kg, units), weight);
    case Way::grind: return filled(words.grind, weight, kind.name);
    case Way::drill: return filled(words.drill, length, kind.name, weight);
  }
  return "";
}

ArcLength parse_arc(std::string_view text) {
  std::string_view length = trimmed(text);
  ArcLength arc;
  cut_end(length, "rotation");
  if (cut_end(length, "with")) {
    arc.direction = ArcDirection::with_rotation;
  } else if (!cut_end(length, "against")) {
    throw Error(Trouble::request, "bad_arc", fmt::format("'{}' does not say which way the tape went", text),
                "write it like '37 mm against rotation' or '1 7/16 in with rotation'");
  }
  arc.length_m = tape_length_m(length);
  if (arc.length_m < 0.0)
    throw Error(Trouble::request, "bad_arc", fmt::format("'{}' is less than nothing", text),
                "give the way round instead");
  return arc;
}

ClockPosition parse_clock(std::string_view text) {
  const std::string_view clock = trimmed(text);
  const auto colon = clock.find(':');
  const auto hours = colon == std::string_view::npos ? std::nullopt : whole(clock.substr(0, colon));
  const auto minutes = colon == std::string_view::npos ? std::nullopt : whole(clock.substr(colon + 1));
  if (!hours || !minutes || *hours < 1 || *hours > 12 || *minutes < 0 || *minutes > 59)
    throw Error(Trouble::request, "bad_clock", fmt::format("'{}' is no clock position", text),
                "write hours 1 to 12 and minutes, like '4:37'");
  return {*hours % 12 * 60 + *minutes};
}

}  // namespace counterspot
