#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "counterspot/recording/recording.hpp"

namespace counterspot {

/// A unit as people write it in a table ("G", "Volts", "m/s**2", "msec") in the spelling that the units' table knows;
/// what is known already stays as written. Empty if it is no unit of motion, voltage or time.
std::optional<std::string> known_unit(std::string_view written);

/// Seconds in one unit of time; empty if it is none.
std::optional<double> seconds_per(const std::string& unit);

/// Whether a column of this name (without its unit) holds times: "time", "t", "timestamp", "Zeit" and the like.
bool is_called_time(std::string_view name);

/// Names and units of columns. A unit stands in parentheses or brackets ("accel (g)": taken whatever it is), or behind
/// a slash, an underline, a comma or a blank ("t/s", "accel_g": taken if it is known as one). A unit of time behind
/// something else than a name of time is part of the name, and so is a letter that only numbers columns: "left_g"
/// beside "left_h".
std::vector<ChannelInfo> split_headers(const std::vector<std::string>& cells);

/// A cell of a row of units, "g", "(g)" or "[g]": its unit; empty text for an empty cell or a dash.
std::optional<std::string> unit_cell(std::string_view cell);

}  // namespace counterspot
