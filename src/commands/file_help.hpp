#pragma once

#include <CLI/CLI.hpp>

namespace counterspot::commands {

/// Each command that takes a file a person writes shows the shortest such file at the end of its help.
void show_files(CLI::App& program);

}  // namespace counterspot::commands
