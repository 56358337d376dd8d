#pragma once

#include <CLI/CLI.hpp>

namespace counterspot::commands {

/// `rig new`: from nothing to a rig file that was proved.
void add_rig_new(CLI::App& rig, int& exit_code);

}  // namespace counterspot::commands
