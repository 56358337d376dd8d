#pragma once

#include <cstdint>
#include <optional>
#include <string_view>

namespace counterspot {

/// A date, a time of day, or both, as a cell of a table holds it.
struct DateTime {
  std::int64_t day = 0;  ///< of the proleptic Gregorian calendar, from 1970-01-01; 0 without a date
  double seconds = 0.0;  ///< since midnight
  bool has_date = false;
  bool has_time = false;
  int decimals = 0;  ///< written behind the seconds

  /// Counted from a day near by, so that a double resolves 15 ps and not a quarter of a microsecond.
  double seconds_since(std::int64_t first_day) const {
    return 86400.0 * static_cast<double>(day - first_day) + seconds;
  }
};

/// Dates as ISO 8601 writes them (2026-03-05), with slashes or points, day or year first (5.3.2026); times of day
/// 10:11:12.345 with point or comma, with AM or PM; both with blanks or a T between. A zone behind it is passed over,
/// since only differences count. Moves `at` behind it; empty if there is none.
/// @param may_have_comma as the decimal sign of seconds; not where commas part the cells.
std::optional<DateTime> parse_date_time(const char*& at, const char* end, bool may_have_comma);

/// The same for a cell that holds nothing else.
std::optional<DateTime> date_time_of(std::string_view cell);

}  // namespace counterspot
