#pragma once

#include <cstddef>
#include <filesystem>
#include <limits>
#include <string>

namespace counterspot {

/// All that stands in a file. @param most_bytes what is longer is another file than was meant, and is not read.
/// @throws Error(request, "not_found") for a folder and for what cannot be read; "too_long".
std::string text_of_file(const std::filesystem::path& file,
                         std::size_t most_bytes = std::numeric_limits<std::size_t>::max());

}  // namespace counterspot
