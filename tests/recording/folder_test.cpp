#include <sndfile.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "recording_support.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;
using Catch::Contains;

namespace {

std::vector<double> ramp(std::size_t count, double step) {
  std::vector<double> values(count);
  for (std::size_t i = 0; i < count; ++i) values[i] = step * static_cast<double>(i % 100);
  return values;
}

constexpr int plain = SF_FORMAT_WAV | SF_FORMAT_DOUBLE;

}  // namespace

TEST_CASE("a folder with a file for each channel is one recording") {
  const TemporaryFolder folder;
  write_sound(folder / "a.wav", plain, 1, ramp(5000, 0.001));
  write_sound(folder / "b.wav", plain, 1, ramp(5000, 0.002));
  write_sound(folder / "rest.wav", plain, 2, ramp(10000, 0.003));
  write_file(folder / "notes.md", "not a recording");
  const auto recording = open_recording(folder.path());
  const RecordingInfo& info = recording->info();
  REQUIRE(info.channels.size() == 4);
  CHECK(find_channel(info, "a", "sensor A") == 0);
  CHECK(find_channel(info, "rest 2", "the tach") == 3);
  CHECK(info.full_scale);
  CHECK(info.sample_rate_Hz == 51200.0);
  const auto samples = read_all(*recording, {7, 1000});
  REQUIRE(samples.size() == 4 * 5000);
  for (std::size_t k : {0UL, 99UL, 4999UL}) {
    CHECK(samples[4 * k] == 0.001 * static_cast<double>(k % 100));
    CHECK(samples[4 * k + 1] == 0.002 * static_cast<double>(k % 100));
    CHECK(samples[4 * k + 3] == 0.003 * static_cast<double>((2 * k + 1) % 100));
  }
  CHECK(recording->warnings().empty());
}

TEST_CASE("files of a folder that were not recorded together are refused") {
  const TemporaryFolder folder;
  write_sound(folder / "a.wav", plain, 1, ramp(50000, 0.001));
  SECTION("another rate") {
    write_sound(folder / "b.wav", plain, 1, ramp(50000, 0.001), 48000);
    CHECK(error_of_reading(folder.path()).code() == "not_one_clock");
    CHECK_THAT(error_of_reading(folder.path()).what(), Contains("51200 and 48000 samples per second"));
  }
  SECTION("another length") {
    write_sound(folder / "b.wav", plain, 1, ramp(40000, 0.001));
    CHECK_THAT(error_of_reading(folder.path()).what(), Contains("ends at sample 40000"));
  }
  SECTION("a table beside a sound file") {
    write_file(folder / "b.csv", "time (s),x\n0,1\n1,2\n");
    CHECK_THAT(error_of_reading(folder.path()).what(), Contains("a sound file and a table of numbers"));
  }
  SECTION("some samples more are let pass, and said") {
    write_sound(folder / "b.wav", plain, 1, ramp(50300, 0.001));
    const auto recording = open_recording(folder.path());
    CHECK(read_all(*recording).size() == 100000);
    REQUIRE(recording->warnings().size() == 1);
    CHECK_THAT(recording->warnings()[0].message, Contains("300 samples apart"));
  }
}

TEST_CASE("recorders that were started apart are lined up by the tach that each recorded") {
  const TemporaryFolder folder;
  // A shaft whose speed changes; b began 0.7 s later and its clock runs 60 ppm fast, at another nominal rate.
  const auto turns = [](double time_s) { return 22.0 * time_s + 0.8 * std::sin(time_s); };
  const auto record = [&](const std::string& name, double rate_Hz, double clock, double begin_s, double lag_rad) {
    std::vector<double> samples;
    for (int k = 0; k < static_cast<int>(6.0 * rate_Hz); ++k) {
      const double turn = turns(begin_s + k / (rate_Hz * clock));
      samples.push_back(0.5 * std::cos(2.0 * M_PI * turn - lag_rad));
      samples.push_back(0.8 *
                        std::clamp(std::min(std::fmod(turn, 1.0), 0.3 - std::fmod(turn, 1.0)) * 60.0 + 0.5, 0.0, 1.0));
    }
    write_sound(folder / name, plain, 2, samples, static_cast<int>(rate_Hz));
  };
  record("a.wav", 8000, 1.0, 1.0, 0.3);
  record("b.wav", 5000, 1.0 + 60e-6, 1.7, 1.1);
  RecordingOptions options;
  options.tach = "2";
  const auto recording = open_recording(folder.path(), options);
  CHECK(recording->info().sample_rate_Hz == 8000.0);
  CHECK_THAT(recording->info().taken.back().as, Contains("its clock runs +5") || Contains("its clock runs +6"));
  const auto samples = read_all(*recording, {1, 999});
  const std::size_t frames = samples.size() / 4;
  CHECK(std::abs(static_cast<double>(frames) - 5.3 * 8000.0) < 10.0);
  double worst = 0.0;
  for (std::size_t k = 0; k < frames; ++k) {
    const double turn = turns(1.7 + static_cast<double>(k) / 8000.0);
    worst = std::max(worst, std::abs(samples[4 * k] - 0.5 * std::cos(2.0 * M_PI * turn - 0.3)));
    worst = std::max(worst, std::abs(samples[4 * k + 2] - 0.5 * std::cos(2.0 * M_PI * turn - 1.1)));
  }
  CHECK(worst < 0.5 * 2.0 * M_PI * 22.8 / 8000.0);  // a sample of a, which is as near as the first common one is known
}

TEST_CASE("recorders of two spins are not lined up, though their speeds agree in the mean") {
  const TemporaryFolder folder;
  for (const double sign : {1.0, -1.0}) {
    std::vector<double> samples;
    for (int k = 0; k < 48000; ++k) {
      const double time_s = k / 8000.0;
      const double turn = 22.0 * time_s + sign * (0.05 * std::sin(3.0 * time_s) + 0.04 * std::sin(7.3 * time_s));
      samples.push_back(0.5 * std::cos(2.0 * M_PI * turn));
      samples.push_back(std::fmod(turn + 1.0, 1.0) < 0.3 ? 0.8 : 0.0);
    }
    write_sound(folder / (sign > 0.0 ? "a.WAV" : "b.WAV"), plain, 2, samples, 8000);
  }
  RecordingOptions options;
  options.tach = "2";
  CHECK_THAT(error_of([&] { open_recording(folder.path(), options); }).what(), Contains("are of two spins"));
}

TEST_CASE("a folder without a recording is refused") {
  const TemporaryFolder folder;
  write_file(folder / "notes.md", "nothing");
  CHECK(error_of_reading(folder.path()).code() == "unreadable");
}
