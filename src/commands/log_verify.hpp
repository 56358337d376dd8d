#pragma once

#include <CLI/CLI.hpp>
#include <string>

namespace counterspot::commands {

void add_log_verify(CLI::App& log, int& exit_code);

/// All that stands in a file; "-": on standard input.
std::string text_named(const std::string& file);

}  // namespace counterspot::commands
