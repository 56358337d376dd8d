#include "commands/live_options.hpp"

#include <algorithm>

#include "counterspot/units/error.hpp"

namespace counterspot::commands {

void add_live_options(CLI::App& command, LiveAsked& asked) {
  command.add_option("--rate", asked.rate, "Samples a second of a device or of raw samples, as in \"51.2 kHz\"");
  command.add_option("--channels", asked.channels, "How many it has, the tach's among them")->capture_default_str();
  command.add_option("--format", asked.format,
                     "Of raw samples: s16le, s24le, s32le (else), f32le; of a device: its best");
}

LiveOptions live_options_of(const LiveAsked& asked) {
  LiveOptions options = counterspot::live_options_of(asked.rate, asked.format);
  options.channels = asked.channels;
  return options;
}

void record_into(const std::filesystem::path& file, LiveRecording& live, double seconds,
                 const std::function<void(std::span<const double>)>& seen) {
  RecordingWriter writer(file, live.info());
  const auto frames = static_cast<std::int64_t>(seconds * live.info().sample_rate_Hz);
  while (writer.frames() < frames) {
    const auto block = live.next(static_cast<std::size_t>(std::min<std::int64_t>(4096, frames - writer.frames())));
    if (block.empty()) break;
    writer.write(block);
    if (seen) seen(block);
  }
  live.stop();
  writer.close();
  if (live.overrun_count() > 0)
    throw Error(Trouble::recording, "overrun", file.string() + ": samples were lost while it was recorded",
                "do the same again; a machine that is busy with other work is the usual reason");
  if (writer.frames() < frames)
    throw Error(Trouble::recording, "too_short", file.string() + ": the source ended before the time was up",
                "see that the source runs, and do the same again");
}

}  // namespace counterspot::commands
