#pragma once

#include <optional>
#include <string>
#include <vector>

#include "recording/csv_head.hpp"
#include "recording/time_column.hpp"

namespace counterspot {

/// "tab", "blank" or the sign in quotes.
std::string separator_name(const CsvStyle& style);

/// What was found out about a table, each with the line under [recording] that states it.
std::vector<TakenFor> what_is_taken(const CsvHead& head, const std::string& encoding,
                                    const std::optional<TimeColumn>& time);

}  // namespace counterspot
