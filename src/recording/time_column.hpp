#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "counterspot/recording/recording.hpp"

namespace counterspot {

/// Which column of a table holds the times, and what its numbers mean.
struct TimeColumn {
  std::size_t index = 0;
  std::string unit;        ///< "s", "ms", …; what was found out, in words, if `guessed`
  std::string scale = {};  ///< "ms" where `unit` is "ms since 1970"; else empty
  double seconds_per_unit = 1.0;
  bool is_date_time = false;  ///< times of day or dates, read as seconds; it may go over midnight
  bool guessed = false;       ///< neither the table nor the rig file states the unit

  /// In seconds. @param before_s the time of the row before: a time of day that falls back by more than half a day
  /// goes on after midnight.
  double seconds(double value, double before_s) const {
    if (!is_date_time) return value * seconds_per_unit;
    while (value < before_s - 43200.0) value += 86400.0;
    return value;
  }
};

/// A column called `time`, `time_s` or `t`; else one with another name of a time and a unit of it; else the first whose
/// unit, in brackets, is one of time; else one with a name of a time; else the first of date_times with a time of day.
/// What a rig file says goes before all of these. Empty if there is none, or none is wanted.
/// @throws Error(recording, "bad_header") for a unit that is none of time; Error(request, "no_such_channel").
/// @param date_times which of the columns hold dates or times of day; may be empty.
std::optional<TimeColumn> find_time_column(const std::vector<ChannelInfo>& columns, const std::vector<bool>& date_times,
                                           const std::string& name, const StatedFormat& stated);

/// Works out the unit of a column that states none from its first values: seconds since 1970 in s, ms, us or ns, days
/// as spreadsheets count them, or seconds.
void guess_unit(TimeColumn& column, std::span<const double> values);

}  // namespace counterspot
