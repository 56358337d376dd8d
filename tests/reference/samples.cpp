// Writes the samples of a recording as doubles, frame by frame, to standard output, and the channels' names to standard
// error, for comparison with what other libraries read. Usage: samples FILE [RATE-IN-HZ]
#include <cstdio>
#include <cstdlib>
#include <vector>

#include "counterspot/recording/recording.hpp"
#include "counterspot/units/error.hpp"

int main(int argc, char** argv) {
  if (argc < 2) return 2;
  try {
    counterspot::RecordingOptions options;
    if (argc > 2) options.sample_rate_Hz = std::atof(argv[2]);
    const auto recording = counterspot::open_recording(argv[1], options);
    for (const auto& channel : recording->info().channels) std::fprintf(stderr, "%s\n", channel.name.c_str());
    std::vector<double> block(1000 * recording->info().channels.size());
    while (const std::size_t frames = recording->read(block))
      std::fwrite(block.data(), sizeof(double), frames * recording->info().channels.size(), stdout);
  } catch (const counterspot::Error& error) {
    std::fprintf(stderr, "%s: %s\n", error.code().c_str(), error.what());
    return 1;
  }
  return 0;
}
