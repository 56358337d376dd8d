#include "recording/column_units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>

#include "counterspot/units/error.hpp"
#include "counterspot/units/units.hpp"
#include "units/text.hpp"

namespace counterspot {

namespace {

std::string in_small_letters(std::string_view text) {
  std::string small(text);
  std::transform(small.begin(), small.end(), small.begin(), [](unsigned char c) { return std::tolower(c); });
  return small;
}

bool is_measured_unit(const std::string& unit) {
  return find_motion_unit(unit) || find_voltage_unit(unit) || seconds_per(unit);
}

/// Spellings that the units' table does not have, since nobody types them in a file of ours.
std::string usual_spelling(std::string_view written) {
  struct Spelling {
    std::string_view written;
    std::string_view usual;
  };
  constexpr Spelling spellings[] = {{"G", "g"},
                                    {"gn", "g"},
                                    {"g_n", "g"},
                                    {"g0", "g"},
                                    {"gs", "g"},
                                    {"mG", "mg"},
                                    {"v", "V"},
                                    {"volt", "V"},
                                    {"volts", "V"},
                                    {"mv", "mV"},
                                    {"millivolt", "mV"},
                                    {"sec", "s"},
                                    {"secs", "s"},
                                    {"second", "s"},
                                    {"seconds", "s"},
                                    {"sek", "s"},
                                    {"sekunden", "s"},
                                    {"msec", "ms"},
                                    {"millisec", "ms"},
                                    {"milliseconds", "ms"},
                                    {"millisekunden", "ms"},
                                    {"usec", "us"},
                                    {"microseconds", "us"},
                                    {"mins", "min"},
                                    {"minutes", "min"},
                                    {"minuten", "min"},
                                    {"hours", "h"},
                                    {"m/s/s", "m/s2"},
                                    {"mps2", "m/s2"},
                                    {"ms2", "m/s2"},
                                    {"m_s2", "m/s2"},
                                    {"mm_s", "mm/s"},
                                    {"mmps", "mm/s"},
                                    {"in_s", "in/s"},
                                    {"m_s", "m/s"},
                                    {"micron", "um"},
                                    {"microns", "um"},
                                    {"mils", "mil"},
                                    {"m/sec2", "m/s2"},
                                    {"mm/sec", "mm/s"},
                                    {"in/sec", "in/s"}};
  std::string text(written);
  for (auto stars = text.find("**"); stars != std::string::npos; stars = text.find("**")) text.erase(stars, 2);
  text.erase(std::remove(text.begin(), text.end(), '^'), text.end());
  for (const Spelling& spelling : spellings) {  // a word in any letters; "G" as it stands, for "g" is known
    if (text == spelling.written || (spelling.written.size() > 2 && in_small_letters(text) == spelling.written))
      return std::string(spelling.usual);
  }
  return text;
}

std::string_view without_marks(std::string_view text) {
  text = trimmed(text);
  const bool marked =
      text.size() >= 2 && ((text.front() == '(' && text.back() == ')') || (text.front() == '[' && text.back() == ']'));
  return marked ? trimmed(text.substr(1, text.size() - 2)) : text;
}

/// "accel (V/(m/s2))": where the bracket opens that the last one closes.
std::optional<std::size_t> opening_of_last(std::string_view cell) {
  if (cell.empty() || (cell.back() != ')' && cell.back() != ']')) return std::nullopt;
  const char close = cell.back();
  const char open = close == ')' ? '(' : '[';
  int depth = 0;
  for (std::size_t at = cell.size(); at-- > 0;) {
    depth += cell[at] == close ? 1 : cell[at] == open ? -1 : 0;
    if (depth == 0) return at;
  }
  return std::nullopt;
}

/// "accel," and "accel /" of "accel, g" and "accel / (g)".
std::string_view without_sign_behind(std::string_view name) {
  name = trimmed(name);
  while (!name.empty() && (name.back() == '/' || name.back() == ',')) name = trimmed(name.substr(0, name.size() - 1));
  return name;
}

std::optional<ChannelInfo> split_at_bracket(const std::string& cell) {
  const auto open = opening_of_last(cell);
  if (!open) return std::nullopt;
  const std::string_view name = without_sign_behind(std::string_view(cell).substr(0, *open));
  const std::string unit(trimmed(std::string_view(cell).substr(*open + 1, cell.size() - *open - 2)));
  return ChannelInfo{std::string(name), known_unit(unit).value_or(unit), cell};
}

/// Units that behind a name without brackets are more likely something else: "tach in", "bay m".
bool is_rather_a_word(std::string_view unit) {
  return unit == "in" || unit == "m" || unit == "ft" || unit == "h" || unit == "d" || unit == "inch";
}

/// A unit behind one of these signs, which must be known, and must not turn a column into one of times by itself.
std::optional<ChannelInfo> split_at_sign(const std::string& cell) {
  for (const char sign : {' ', '_', ',', '/'}) {
    // The unit itself may have slashes and underlines, as "mm/s" and "m_s2" do: the longest that is known is taken.
    for (auto at = cell.find(sign); at != std::string::npos; at = cell.find(sign, at + 1)) {
      const std::string_view name = without_sign_behind(std::string_view(cell).substr(0, at));
      const auto unit = known_unit(without_marks(std::string_view(cell).substr(at + 1)));
      if (name.empty() || !unit || is_rather_a_word(*unit)) continue;
      if (seconds_per(*unit) && !is_called_time(name)) continue;
      return ChannelInfo{std::string(name), *unit, cell};
    }
  }
  return std::nullopt;
}

/// What stands behind the last sign of a name, if it is short as a column's number is.
std::string letter_behind(const std::string& cell, const std::string& name) {
  if (cell.size() != name.size() + 2 || !cell.starts_with(name)) return "";
  return cell.substr(name.size() + 1);
}

}  // namespace

std::optional<double> seconds_per(const std::string& unit) {
  if (unit.empty()) return std::nullopt;
  try {
    return parse_quantity(fmt::format("1 {}", unit), Dimension::time);
  } catch (const Error&) {
    return std::nullopt;
  }
}

std::optional<std::string> known_unit(std::string_view written) {
  std::string text(trimmed(written));
  if (text.empty()) return std::nullopt;
  if (is_measured_unit(text)) return text;
  std::string usual = usual_spelling(text);
  if (is_measured_unit(usual)) return usual;
  return std::nullopt;
}

bool is_called_time(std::string_view name) {
  constexpr std::array<std::string_view, 22> names{
      "time",      "t",       "timestamp",    "timestamps",   "time stamp",    "time_stamp",    "datetime",
      "date time", "zeit",    "zeitstempel",  "uhrzeit",      "temps",         "tiempo",        "tempo",
      "tid",       "elapsed", "elapsed time", "elapsed_time", "relative time", "relative_time", "epoch",
      "unix time"};
  return std::find(names.begin(), names.end(), in_small_letters(trimmed(name))) != names.end();
}

std::vector<ChannelInfo> split_headers(const std::vector<std::string>& cells) {
  std::vector<ChannelInfo> columns;
  for (const std::string& cell : cells) {
    auto found = split_at_bracket(cell);
    if (!found) found = split_at_sign(cell);
    columns.push_back(found.value_or(ChannelInfo{cell, "", cell}));
  }
  for (std::size_t i = 0; i < columns.size(); ++i) {  // a letter that numbers columns
    ChannelInfo& column = columns[i];
    if (letter_behind(cells[i], column.name).empty()) continue;
    auto numbered = [&](const std::string& cell) {
      const std::string letter = letter_behind(cell, column.name);
      return !letter.empty() && !known_unit(letter);
    };
    if (std::any_of(cells.begin(), cells.end(), numbered)) column = {cells[i], "", cells[i]};
  }
  return columns;
}

std::optional<std::string> unit_cell(std::string_view cell) {
  const std::string_view text = without_marks(cell);
  if (text.empty() || text == "-" || text == "--") return "";
  return known_unit(text);
}

}  // namespace counterspot
