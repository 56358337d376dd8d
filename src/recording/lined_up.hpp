#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "counterspot/recording/recording.hpp"

namespace counterspot {

/// When the signal of a channel rises through the middle between its lowest and highest value, in samples from the
/// beginning of the recording, by linear interpolation; it counts again once it fell below the lower third.
/// Reads the recording twice to its end.
std::vector<double> rises_of(const std::filesystem::path& path, const RecordingOptions& options, std::size_t channel);

/// How the clock of one recorder runs by that of another: place = offset + rate · place of the other, in samples.
struct ClockLine {
  double offset = 0.0;
  double rate = 1.0;
};

/// From the edges of a tach that both recorded, which began at different times: the line of least squares between edges
/// that are as many apart as leaves least unexplained. Where the speed says nothing, whole turns are left open, which
/// order 1 does not see.
/// @return empty if fewer than 8 edges are common to both, the clocks differ by more than 0.1 %, or the edges lie off
/// the line by more than 1 % of the way between two of them (root mean square), as those of two spins do: the speed of
/// no drive wanders alike twice (common practice, no source).
std::optional<ClockLine> line_up(std::span<const double> edges, std::span<const double> of_other, double nominal_rate);

/// A recording at the sample times of another from its frame `begin` on, where this one has begun too.
std::unique_ptr<Recording> lined_up(std::unique_ptr<Recording> recording, const ClockLine& line, std::int64_t begin);

}  // namespace counterspot
