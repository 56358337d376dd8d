#pragma once

#include <filesystem>
#include <string>

namespace counterspot {

/// The text of another shaft of the same kind: all as in the first, but its id, and of `[order]` without what is one
/// shaft's own, the serial number and who inspected and fixed it.
/// @throws as `read_shaft_text`; Error(request, "copy_id") if the id cannot be replaced where it stands.
std::string copied_shaft(const std::string& shaft_text, const std::filesystem::path& path, const std::string& id);

}  // namespace counterspot
