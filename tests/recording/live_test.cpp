#include <sndfile.h>

#include <catch2/catch.hpp>
#include <chrono>
#include <cmath>
#include <filesystem>
#include <numeric>
#include <thread>

#include "counterspot/recording/capture.hpp"
#include "recording/recording_support.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

constexpr std::int64_t frames_made = 100'000;
constexpr double one_step = 1.0 / 8388608.0;  // of 24 bits

/// A recording in which every frame says its number.
std::filesystem::path numbered_recording() {
  std::vector<double> samples(static_cast<std::size_t>(frames_made));
  for (std::size_t i = 0; i < samples.size(); ++i) samples[i] = static_cast<double>(i) * one_step;
  const auto path = std::filesystem::temp_directory_path() / "counterspot-numbered.wav";
  write_sound(path, SF_FORMAT_WAV | SF_FORMAT_PCM_24, 1, samples, 51200);
  return path;
}

/// Reads a block now and then, and lets the source go on by more than the queue holds in between.
std::vector<std::int64_t> numbers_of_a_slow_reader(LiveRecording& live, double queue_s) {
  std::vector<std::int64_t> numbers;
  std::vector<double> block(1024);
  while (const std::size_t got = live.read(block)) {
    for (std::size_t i = 0; i < got; ++i) numbers.push_back(std::llround(block[i] / one_step));
    if (numbers.size() > 20'000) continue;  // then as fast as it can
    const auto enough = std::min(frames_made, live.frames_captured() + static_cast<std::int64_t>(2 * queue_s * 51200));
    while (live.frames_captured() < enough) std::this_thread::sleep_for(std::chrono::milliseconds(1));
  }
  return numbers;
}

}  // namespace

TEST_CASE("every sample that a slow reader lost is counted, and its place is known") {
  LiveOptions options;
  options.queue_s = 0.05;
  options.pace = 200.0;
  const auto live = open_live("play:" + numbered_recording().string(), options);
  const std::vector<std::int64_t> numbers = numbers_of_a_slow_reader(*live, options.queue_s);

  const std::vector<Overrun> overruns = live->overruns();
  REQUIRE_FALSE(overruns.empty());
  CHECK(live->overrun_count() == static_cast<std::int64_t>(overruns.size()));
  std::int64_t expected = 0;
  std::size_t next = 0;
  for (std::size_t i = 0; i <= numbers.size(); ++i) {
    if (next < overruns.size() && overruns[next].at_frame == static_cast<std::int64_t>(i)) {
      REQUIRE(overruns[next].lost_frames.value_or(0) > 0);
      expected += *overruns[next++].lost_frames;
    }
    if (i < numbers.size()) REQUIRE(numbers[i] == expected++);
  }
  CHECK(next == overruns.size());
  CHECK(expected == frames_made);
  REQUIRE(live->warnings().size() == 1);
  CHECK(live->warnings().front().code == WarningCode::overrun);
}

TEST_CASE("a reader that keeps up loses nothing and is warned of nothing") {
  LiveOptions options;
  options.queue_s = 10.0;
  options.pace = 200.0;
  const auto live = open_live("play:" + numbered_recording().string(), options);
  std::int64_t count = 0;
  std::vector<double> block(1024);
  while (const std::size_t got = live->read(block))
    for (std::size_t i = 0; i < got; ++i) REQUIRE(std::llround(block[i] / one_step) == count++);
  CHECK(count == frames_made);
  CHECK(live->overrun_count() == 0);
  CHECK(live->warnings().empty());
}
