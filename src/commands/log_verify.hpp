#pragma once

#include <CLI/CLI.hpp>
#include <string>

#include "counterspot/log/log.hpp"

namespace counterspot::commands {

void add_log_verify(CLI::App& log, int& exit_code);

/// What the file that an export wrote holds; "-": standard input.
Exported exported_by(const std::string& file);

}  // namespace counterspot::commands
