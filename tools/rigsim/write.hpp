#pragma once

#include <filesystem>
#include <string>

#include "rigsim/scenario.hpp"
#include "rigsim/simulate.hpp"

namespace rigsim {

/// Writes a recording; the name's end says how: ".wav", ".flac" (converter's bits; WAV of a recorder without steps is
/// 64-bit float) or ".csv" (time in s, values in the sensors' volts). Nothing of the date gets into the file.
/// @throws std::runtime_error if the file cannot be written.
void write_recording(const std::filesystem::path& path, const Recorded& recorded);

/// The files that a person would write about this rig and this shaft.
std::string rig_toml(const Scenario& scenario);
std::string rig_toml_for_csv(const Scenario& scenario);
std::string shaft_toml(const Scenario& scenario);

}  // namespace rigsim
