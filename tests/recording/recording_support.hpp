#pragma once

#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include "counterspot/recording/recording.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot::test {

/// All samples, read in blocks of the sizes given, in turn.
std::vector<double> read_all(Recording& recording, const std::vector<std::size_t>& block_frames = {1000});
std::vector<double> read_all(const std::filesystem::path& path, const RecordingOptions& options = {});

/// The error that the action ends in; fails the test if it ends in none.
Error error_of(const std::function<void()>& action);
Error error_of_reading(const std::filesystem::path& path, const RecordingOptions& options = {});

/// Gives these bytes to standard input through a pipe while it lives.
class PipedInput {
 public:
  explicit PipedInput(std::string bytes);
  ~PipedInput();
  PipedInput(const PipedInput&) = delete;
  PipedInput& operator=(const PipedInput&) = delete;

 private:
  int before_;
  int write_end_;
  std::function<void()> join_;
};

/// Writes samples (fractions of full scale) with libsndfile in one of its formats.
void write_sound(const std::filesystem::path& path, int format, int channels, const std::vector<double>& samples,
                 int rate_Hz = 51200);

}  // namespace counterspot::test
