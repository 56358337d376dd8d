#pragma once

#include <CLI/CLI.hpp>

#include "files/stated_recording.hpp"

namespace counterspot::commands {

struct StatedOptions {
  CLI::Option* sample_rate;
  CLI::Option* channels;
};

/// Adds `--sample-rate` and `--channels`, which every command has that opens a recording.
StatedOptions add_stated_options(CLI::App& command, StatedRecording& stated);

}  // namespace counterspot::commands
