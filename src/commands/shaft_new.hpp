#pragma once

#include <CLI/CLI.hpp>

namespace counterspot::commands {

/// `shaft new`: a shaft's file from what a tape measure and a scale give.
void add_shaft_new(CLI::App& shaft);

}  // namespace counterspot::commands
