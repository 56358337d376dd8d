#include "recording/time_column.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "counterspot/units/error.hpp"
#include "recording/column_units.hpp"

namespace counterspot {

namespace {

using Columns = std::vector<ChannelInfo>;

template <typename Meant>
std::optional<std::size_t> first_of(const Columns& columns, Meant meant) {
  const auto found = std::find_if(columns.begin(), columns.end(), meant);
  if (found == columns.end()) return std::nullopt;
  return static_cast<std::size_t>(found - columns.begin());
}

bool has_time_unit(const ChannelInfo& column) {
  return seconds_per(column.unit).has_value();
}

std::optional<std::size_t> stated_column(const Columns& columns, const std::string& name, const std::string& wanted) {
  const auto found =
      first_of(columns, [&](const ChannelInfo& column) { return column.name == wanted || column.header == wanted; });
  if (found) return found;
  throw Error(Trouble::request, "no_such_channel",
              fmt::format("{} has no column '{}', which the rig file gives for the times", name, wanted),
              "correct time under [recording] in the rig file; 'inspect' lists the columns");
}

std::optional<std::size_t> found_column(const Columns& columns, const std::vector<bool>& date_times) {
  const auto plain = first_of(columns, [](const ChannelInfo& column) {
    return column.name.size() == 1 ? (column.name[0] | 0x20) == 't'
                                   : column.name.size() == 4 && is_called_time(column.name) &&
                                         (column.name[0] | 0x20) == 't' && (column.name[3] | 0x20) == 'e';
  });
  if (plain) return plain;
  const auto named = [](const ChannelInfo& column) { return is_called_time(column.name); };
  const auto both =
      first_of(columns, [&](const ChannelInfo& column) { return named(column) && has_time_unit(column); });
  if (both) return both;
  if (const auto timed = first_of(columns, has_time_unit)) return timed;
  if (const auto called = first_of(columns, named)) return called;
  const auto date_time = std::find(date_times.begin(), date_times.end(), true);
  if (date_time == date_times.end()) return std::nullopt;
  return static_cast<std::size_t>(date_time - date_times.begin());
}

}  // namespace

std::optional<TimeColumn> find_time_column(const Columns& columns, const std::vector<bool>& date_times,
                                           const std::string& name, const StatedFormat& stated) {
  if (stated.time == "none") return std::nullopt;
  const auto index = stated.time ? stated_column(columns, name, *stated.time) : found_column(columns, date_times);
  if (!index) return std::nullopt;
  const ChannelInfo& info = columns[*index];
  TimeColumn column;
  column.index = *index;
  column.unit = stated.time_unit.empty() ? info.unit : stated.time_unit;
  column.is_date_time = *index < date_times.size() && date_times[*index];
  column.guessed = column.unit.empty();
  if (column.is_date_time || column.guessed) {
    column.unit = "s";
    return column;
  }
  const auto scale = seconds_per(column.unit);
  if (!scale) {
    throw Error(
        Trouble::recording, "bad_header",
        fmt::format("{}: column '{}' has the unit '{}', which is not one of time", name, info.name, column.unit),
        "name the time column with its unit, as in \"time (s)\", or write time_unit = \"ms\" under [recording] in "
        "the rig file");
  }
  column.seconds_per_unit = *scale;
  return column;
}

void guess_unit(TimeColumn& column, std::span<const double> values) {
  if (!column.guessed || column.is_date_time || values.size() < 2) return;
  struct Epoch {
    double least;
    double seconds_per_unit;
    const char* scale;
  };
  // 1e9 s after 1970 is 2001, 1e10 s is 2286.
  constexpr Epoch epochs[] = {{1e9, 1.0, "s"}, {1e12, 1e-3, "ms"}, {1e15, 1e-6, "us"}, {1e18, 1e-9, "ns"}};
  const double first = values.front();
  for (const Epoch& epoch : epochs) {
    if (first < epoch.least || first >= 10.0 * epoch.least) continue;
    column.seconds_per_unit = epoch.seconds_per_unit;
    column.scale = epoch.scale;
    column.unit = fmt::format("{} since 1970", epoch.scale);
  }
  // Days since 1900 of 1954 to 2119, in steps that as seconds would be more than 200 kHz.
  const double step = (values.back() - first) / static_cast<double>(values.size() - 1);
  if (first >= 2e4 && first < 8e4 && step > 0.0 && step < 5e-6) {
    column.seconds_per_unit = 86400.0;
    column.scale = "d";
    column.unit = "days, as spreadsheets count them";
  }
}

}  // namespace counterspot
