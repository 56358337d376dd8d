#include <sndfile.h>
#include <catch2/catch.hpp>
#include <fstream>

#include "recording_support.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

constexpr std::size_t frames = 200'000;  // more than any reader takes at once
constexpr std::size_t block = 1000;

std::string rows_of_table(std::size_t first_row, std::size_t rows) {
  std::string text;
  for (std::size_t i = first_row; i < first_row + rows; ++i) text += std::to_string(i) + "e-3,0.25,0.5\n";
  return text;
}

std::vector<double> samples() {
  std::vector<double> all(3 * frames);
  for (std::size_t i = 0; i < all.size(); ++i) all[i] = 0.001 * static_cast<double>(i % 500);
  return all;
}

/// Reads a block, lets something happen to the file, and reads the rest.
std::size_t frames_read_while(const std::filesystem::path& path, const std::function<void()>& it_changes) {
  RecordingOptions options;
  options.read_ahead = false;
  const auto recording = open_recording(path, options);
  std::vector<double> first(block * recording->info().channels.size());
  REQUIRE(recording->read(first) == block);
  it_changes();
  return block + read_all(*recording).size() / recording->info().channels.size();
}

}  // namespace

TEST_CASE("a recording that becomes shorter while it is read is refused, whatever its format") {
  const TemporaryFolder folder;
  const auto [name, format] = GENERATE(table<std::string, int>({{"spin.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_24},
                                                                {"spin.w64", SF_FORMAT_W64 | SF_FORMAT_FLOAT},
                                                                {"spin.rf64", SF_FORMAT_RF64 | SF_FORMAT_PCM_16},
                                                                {"spin.aiff", SF_FORMAT_AIFF | SF_FORMAT_PCM_16},
                                                                {"spin.csv", 0}}));
  CAPTURE(name);
  const auto path = folder / name;
  format == 0 ? void(write_file(path, "time (s),a,b\n" + rows_of_table(0, frames)))
              : write_sound(path, format, 3, samples());
  const auto half = std::filesystem::file_size(path) / 2;
  const Error error = error_of([&] { frames_read_while(path, [&] { std::filesystem::resize_file(path, half); }); });
  CHECK(error.trouble() == Trouble::recording);
  CHECK(error.code() == "short_data");
}

TEST_CASE(
    "of a recording that grows while it is read, what its header announced is used; of a table all that is there") {
  const TemporaryFolder folder;
  const auto sound = folder / "spin.wav";
  write_sound(sound, SF_FORMAT_WAV | SF_FORMAT_PCM_24, 3, samples());
  auto append = [](const std::filesystem::path& path, const std::string& text) {
    std::ofstream(path, std::ios::binary | std::ios::app) << text;
  };
  CHECK(frames_read_while(sound, [&] { append(sound, std::string(90'000, 'x')); }) == frames);

  const auto text = write_file(folder / "spin.csv", "time (s),a,b\n" + rows_of_table(0, frames));
  CHECK(frames_read_while(text, [&] { append(text, rows_of_table(frames, 500)); }) == frames + 500);
}
