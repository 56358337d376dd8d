#include "files/file_keys.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "files/key_lists.hpp"
#include "units/unit_table.hpp"

namespace counterspot {

bool Range::holds(double value) const {
  return open ? value > least && value < most : value >= least && value <= most;
}

std::string_view FileKey::name() const {
  const auto dot = path.rfind('.');
  return dot == std::string_view::npos ? path : path.substr(dot + 1);
}

namespace {

bool stands_in_quotes(const FileKey& key) {
  switch (key.form) {
    case Form::table:
    case Form::tables:
    case Form::whole:
    case Form::yes_or_no:
    case Form::quantities: return false;
    case Form::channel: return key.example.find_first_not_of("0123456789") != std::string_view::npos;
    default: return true;
  }
}

/// "a.b" of "a.b.c"; "" of "a".
std::string_view table_of(std::string_view path) {
  const auto dot = path.rfind('.');
  return dot == std::string_view::npos ? std::string_view() : path.substr(0, dot);
}

std::string number_text(const FileKey& key, double value) {
  const bool percent = key.form == Form::quantity && key.dimension == Dimension::fraction;
  return percent ? fmt::format("{} %", 100.0 * value) : fmt::format("{}", value);
}

/// "g·mm, kg·m": as people write them.
std::string units_shown(Dimension dimension) {
  std::string shown;
  for (const char c : units_taken(dimension)) shown += c == '*' ? std::string("·") : std::string(1, c);
  return shown;
}

std::string measured(const FileKey& key, const Saying& said) {
  const bool positive = key.range.least == 0.0 && std::isinf(key.range.most);
  const std::string_view phrase = !positive ? "{} ({})" : key.range.open ? "{} above 0 ({})" : "{}, not negative ({})";
  return fmt::format(fmt::runtime(said(phrase)), said(dimension_name(key.dimension)), units_shown(key.dimension));
}

std::string whole_text(const FileKey& key, const Saying& said) {
  if (std::isinf(key.range.least)) return std::string(said("a whole number"));
  if (std::isinf(key.range.most)) return fmt::format(fmt::runtime(said("a whole number from {}")), key.range.least);
  return fmt::format(fmt::runtime(said("a whole number from {} to {}")), key.range.least, key.range.most);
}

std::string bounded(const FileKey& key, const Saying& said) {
  return fmt::format(fmt::runtime(said("{} above {} and below {}")), said(dimension_name(key.dimension)),
                     number_text(key, key.range.least), number_text(key, key.range.most));
}

}  // namespace

std::string FileKey::value() const {
  return stands_in_quotes(*this) ? fmt::format("\"{}\"", example) : std::string(example);
}

std::string FileKey::written() const {
  const std::string_view plain = name() == "*" ? (choices.empty() ? "A" : choices.front()) : name();
  if (form == Form::table && example.empty()) return fmt::format("[{}]", plain);
  if (form == Form::tables && example.empty()) return fmt::format("[[{}]]", plain);
  return fmt::format("{} = {}", plain, value());
}

const FileAbout& about(FileKind kind) {
  switch (kind) {
    case FileKind::rig: return about_rig;
    case FileKind::shaft: return about_shaft;
    case FileKind::spins: return about_spins;
    case FileKind::stock: return about_stock;
    case FileKind::shop: break;
  }
  return about_shop;
}

const std::vector<FileKey>& keys_of(FileKind kind) {
  static const std::array<std::vector<FileKey>, 5> all = {rig_keys(), shaft_keys(), spins_keys(), stock_keys(),
                                                          shop_keys()};
  return all[static_cast<std::size_t>(kind)];
}

const FileKey* find_key(FileKind kind, std::string_view within, std::string_view name) {
  const FileKey* any = nullptr;
  for (const FileKey& key : keys_of(kind)) {
    if (table_of(key.path) != within) continue;
    if (key.name() == name) return &key;
    const auto& fixed = key.choices;
    if (key.name() == "*" && (fixed.empty() || std::find(fixed.begin(), fixed.end(), name) != fixed.end())) any = &key;
  }
  return any;
}

std::vector<const FileKey*> keys_within(FileKind kind, std::string_view within) {
  std::vector<const FileKey*> found;
  for (const FileKey& key : keys_of(kind))
    if (table_of(key.path) == within) found.push_back(&key);
  return found;
}

std::string needed_within(FileKind kind, std::string_view within) {
  std::vector<std::string_view> names;
  for (const FileKey* key : keys_within(kind, within))
    if (key->needed) names.push_back(key->name());
  return fmt::format("{}", fmt::join(names, ", "));
}

std::string_view in_english(std::string_view phrase) {
  return phrase;
}

std::string form_text(const FileKey& key, const Saying& said) {
  const auto text = [&](std::string_view phrase, const auto&... parts) {
    return fmt::format(fmt::runtime(said(phrase)), parts...);
  };
  switch (key.form) {
    case Form::table: return text("a table");
    case Form::tables: return text("as many tables as there are");
    case Form::text: return text("a text");
    case Form::choice: return fmt::format("\"{}\"", fmt::join(key.choices, said("\" or \"")));
    case Form::whole: return whole_text(key, said);
    case Form::yes_or_no: return text("true or false");
    case Form::quantity: return std::isfinite(key.range.most) ? bounded(key, said) : measured(key, said);
    case Form::place: return text("{}, or a clock position like 3:00", measured(key, said));
    case Form::quantities: return text("a list, each {}", measured(key, said));
    case Form::known_size: return text("{}, with ±", measured(key, said));
    case Form::bead: return text("a share in %, or a mass ({})", units_taken(Dimension::mass));
    case Form::level: return text("a voltage ({}), or a number", units_taken(Dimension::voltage));
    case Form::channel: return text("a channel's number from 1, or a column's name in quotes");
    case Form::sensitivity: return text("volts for a unit of motion, as V or mV per g, m/s2, mm/s or um; or unknown");
    case Form::vector: return text("size, '@' and phase lag, with ± if known");
    case Form::amplitude: return text("a size with its unit, with ± if known");
  }
  return "";
}

std::string range_text(const FileKey& key) {
  const auto& [least, most, open] = key.range;
  if (std::isinf(least) && std::isinf(most)) return "";
  if (!std::isinf(most))
    return fmt::format("must be {} {} {} {}", open ? "between" : "from", least, open ? "and" : "to",
                       number_text(key, most));
  if (least == 0.0) return open ? "must be more than 0" : "must not be negative";
  return fmt::format("must be at least {}", least);
}

}  // namespace counterspot
