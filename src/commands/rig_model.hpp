#pragma once

#include <CLI/CLI.hpp>

namespace counterspot::commands {

/// `rig model`, as a part of `rig`.
void add_rig_model(CLI::App& rig, int& exit_code);

}  // namespace counterspot::commands
