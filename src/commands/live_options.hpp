#pragma once

#include <CLI/CLI.hpp>
#include <filesystem>
#include <functional>
#include <span>
#include <string>

#include "counterspot/recording/capture.hpp"

namespace counterspot::commands {

/// What is typed about a live source.
struct LiveAsked {
  std::string rate, format;
  int channels = 3;
};

inline constexpr const char* source_words =
    "alsa:NAME (a sound device), raw:PATH (samples without header from a named pipe; raw:- is standard input), "
    "play:FILE "
    "(a recording at real speed), or - for WAV or CSV on standard input";

void add_live_options(CLI::App& command, LiveAsked& asked);
LiveOptions live_options_of(const LiveAsked& asked);

/// Records so long into a file of its own, which is kept whatever happens. @throws Error(recording, "overrun") if
/// samples were lost, "too_short" if the source ended early; as RecordingWriter.
/// @param seen is shown each block of interleaved samples as it comes in.
void record_into(const std::filesystem::path& file, LiveRecording& live, double seconds,
                 const std::function<void(std::span<const double>)>& seen = {});

}  // namespace counterspot::commands
