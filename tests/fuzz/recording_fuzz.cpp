#include <bit>
#include <cstdlib>
#include <type_traits>
#include <vector>

#include "counterspot/recording/recording.hpp"
#include "fuzz.hpp"

using namespace counterspot;

namespace {

constexpr std::size_t most_values = 1 << 20;

struct ReadOut {
  std::vector<double> values;
  std::string trouble;  ///< the code of what ended it
};

std::size_t read(Recording& recording, std::vector<double>& block) {
  return recording.read(block);
}
std::size_t read(Recording& recording, std::vector<float>& block) {
  return recording.read_floats(block);
}

template <typename Sample>
ReadOut read_all(const std::filesystem::path& path, std::size_t block_frames, bool ahead) {
  ReadOut out;
  try {
    RecordingOptions options;
    options.sample_rate_Hz = 1000.0;
    options.read_ahead = ahead;
    const auto recording = open_recording(path, options);
    if (std::is_same_v<Sample, float> && !recording->info().fits_float)
      return read_all<double>(path, block_frames, ahead);
    std::vector<Sample> block(block_frames * recording->info().channels.size());
    while (out.values.size() < most_values) {
      const std::size_t frames = read(*recording, block);
      if (frames == 0) break;
      out.values.insert(out.values.end(), block.begin(),
                        block.begin() + static_cast<std::ptrdiff_t>(frames * recording->info().channels.size()));
    }
    recording->warnings();
  } catch (const Error& error) {
    out.trouble = error.code();
  }
  return out;
}

bool same(const std::vector<double>& one, const std::vector<double>& other) {
  if (one.size() != other.size()) return false;
  for (std::size_t i = 0; i < one.size(); ++i)
    if (std::bit_cast<std::uint64_t>(one[i]) != std::bit_cast<std::uint64_t>(other[i])) return false;
  return true;
}

}  // namespace

/// Audio files and CSV. Neither the split into blocks nor reading ahead nor the width of the samples has a meaning, in
/// sound files and in broken ones.
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t count) {
  const fuzz::MemoryFile file(fuzz::text_of(bytes, count));
  const ReadOut at_once = read_all<double>(file.path(), 4096, true);
  if (at_once.values.size() < most_values) {
    const ReadOut in_pieces = read_all<double>(file.path(), 7, false);
    if (at_once.trouble != in_pieces.trouble) std::abort();
    if (at_once.trouble.empty() && !same(at_once.values, in_pieces.values)) std::abort();
    const ReadOut as_floats = read_all<float>(file.path(), 100, true);
    if (at_once.trouble != as_floats.trouble) std::abort();
    if (at_once.trouble.empty() && !same(at_once.values, as_floats.values)) std::abort();
  }
  fuzz::let_refuse([&] { read_times(file.path()); });
  return 0;
}
