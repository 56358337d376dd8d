#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "recording/csv_text.hpp"

namespace counterspot {

/// Beginning and names of a table: all that is known before its rows.
struct CsvHead {
  CsvStyle style;
  std::vector<ChannelInfo> columns;
  std::size_t body_offset = 0;             ///< of the first row in the text
  std::int64_t body_line = 1;              ///< 1-based line of it
  std::optional<std::int64_t> names_line;  ///< empty: the columns are counted
  std::optional<std::int64_t> units_line;  ///< a row of units under (or above) the names
  bool has_index = false;                  ///< the first column counts the rows
};

/// The first row is the first line whose cells are all numbers (or dates and times of day), for one separator and one
/// decimal sign; what stands above it are names, units, comments and whatever else a recorder writes. A line above it
/// that begins like a row is one, and is left for the rows to be refused.
/// @param stated what a rig file says of it. @throws Error(recording, …) "unreadable" (not a text), "no_data",
/// "bad_header"; Error(request, "no_such_channel") for a unit stated of a column that is not there.
CsvHead read_csv_head(std::string_view text, const std::string& name, const StatedFormat& stated = {});

}  // namespace counterspot
