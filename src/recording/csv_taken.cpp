#include "recording/csv_taken.hpp"

#include <fmt/format.h>

#include "recording/columns_taken.hpp"

namespace counterspot {

namespace {

std::string header_words(const CsvHead& head) {
  if (head.names_line && head.units_line)
    return fmt::format("names in line {}, units in line {}", *head.names_line, *head.units_line);
  if (head.names_line) return fmt::format("names in line {}", *head.names_line);
  if (head.units_line) return fmt::format("units in line {}, columns counted", *head.units_line);
  return "none, columns counted";
}

std::string time_words(const TimeColumn& time) {
  if (time.is_date_time) return "dates or times of day";
  if (time.guessed && time.unit == "s") return "in s: no unit is stated";
  return fmt::format("in {}", time.unit);
}

/// In the rig file's words, which have the scale alone: where the count begins does not matter.
std::string time_unit_key(const TimeColumn& time) {
  return fmt::format("time_unit = \"{}\"", time.scale.empty() ? time.unit : time.scale);
}

std::string separator_key(const CsvStyle& style) {
  if (style.separator == '\t') return "tab";
  if (style.separator == ' ') return "blank";
  return {style.separator};
}

}  // namespace

std::string separator_name(const CsvStyle& style) {
  const std::string key = separator_key(style);
  return key.size() > 1 ? key : fmt::format("'{}'", key);
}

std::vector<TakenFor> what_is_taken(const CsvHead& head, const std::string& encoding,
                                    const std::optional<TimeColumn>& time) {
  const bool comma = head.style.quoted_decimal == ',';
  std::vector<TakenFor> taken = {
      {"text", encoding, fmt::format("encoding = \"{}\"", encoding)},
      {"cells",
       fmt::format("parted by {}{}", separator_name(head.style),
                   head.style.trailing ? ", one parts nothing at a row's end" : ""),
       fmt::format("separator = \"{}\"", separator_key(head.style))},
      {"decimal sign", comma ? "comma" : "point", fmt::format("decimal = \"{}\"", comma ? ',' : '.')},
      {"header", header_words(head), ""},
      {"first row", fmt::format("line {}", head.body_line), fmt::format("first_row = {}", head.body_line)}};
  for (std::size_t i = 0; i < head.columns.size(); ++i) {
    const ChannelInfo& column = head.columns[i];
    const std::string what = fmt::format("column {} '{}'", i + 1, column.name);
    const std::string as_time = fmt::format("time = \"{}\"", column.name);
    if (time && time->index == i) {
      taken.push_back({what, "the times", as_time});
      taken.push_back({"times", time_words(*time), time->is_date_time ? "" : time_unit_key(*time)});
    } else if (i == 0 && head.has_index) {
      taken.push_back({what, "counts the rows", ""});
    } else if (head.style.has_date_times && head.style.date_times[i]) {
      taken.push_back({what, "dates or times of day, left out", ""});
    } else {
      taken.push_back(values_taken(what, column));
    }
  }
  if (!time) taken.push_back({"times", "none: the rate is given", "time = \"none\""});
  return taken;
}

}  // namespace counterspot
