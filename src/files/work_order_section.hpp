#pragma once

#include "counterspot/files/work_order.hpp"
#include "files/toml_section.hpp"

namespace counterspot {

/// `[order]` of a file.
WorkOrder read_work_order(TomlSection& file);

/// A shaft's text with this in its `[order]`, and nothing else. @throws as `with_work_order`.
std::string with_only_work_order(const std::string& shaft_text, const std::filesystem::path& path,
                                 const WorkOrder& order);

}  // namespace counterspot
