#pragma once

#include <span>
#include <string>
#include <vector>

#include "counterspot/recording/sound_devices.hpp"
#include "counterspot/units/said.hpp"
#include "report/json.hpp"

namespace counterspot {

Json document_of(const std::vector<SoundDevice>& devices);

/// "channels: 2-8; 44.1 48 kHz, s32le, s16le"
Said offers_text(const SoundDevice& device);
/// What is typed to record from it as is best.
std::string record_options_text(const SoundDevice& device);

/// A line each, with what is typed to record from it; where there is none, what else can be the source.
std::vector<Said> sound_device_lines(const std::vector<SoundDevice>& devices);

/// A bar each for the channels' largest samples, fractions of full scale: "1 ######---- -23 dB". Its length goes by the
/// logarithm, from -60 dB to 0 dB, so that noise at rest and a knock are seen on one scale. As wide as a terminal of 80
/// columns.
std::string level_bars(std::span<const double> peaks);

}  // namespace counterspot
