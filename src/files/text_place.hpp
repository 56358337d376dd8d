#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <utility>

namespace counterspot {

/// Where a text stands between its quotes in a TOML file, as a place and a length in bytes, so that it alone can be
/// written anew: that of `key` in the entry of `[[list]]` whose `name` is `name`.
/// @throws Error(request, …) "bad_toml"; "no_place" if it is not there as plain text.
std::pair<std::size_t, std::size_t> place_of_text(const std::string& file, std::string_view list, std::string_view name,
                                                  std::string_view key);

/// The same of a whole value, quotes and all: that of `key` in `[section]`. Nothing if it is not there.
/// @throws Error(request, "bad_toml").
std::optional<std::pair<std::size_t, std::size_t>> place_of_value(const std::string& file, std::string_view section,
                                                                  std::string_view key);

}  // namespace counterspot
