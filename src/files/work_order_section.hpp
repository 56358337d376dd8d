#pragma once

#include "counterspot/files/work_order.hpp"
#include "files/toml_section.hpp"

namespace counterspot {

/// `[order]` of a file.
WorkOrder read_work_order(TomlSection& file);

}  // namespace counterspot
