#pragma once

#include <filesystem>

namespace counterspot {

/// Are both files there, and the same byte for byte, or one file under two names? Files of one size are compared block
/// by block, and two recordings differ in their first; so this reads next to nothing.
bool same_bytes(const std::filesystem::path& one, const std::filesystem::path& other);

}  // namespace counterspot
