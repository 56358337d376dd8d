#pragma once

#include <filesystem>
#include <optional>
#include <vector>

#include "counterspot/beam.hpp"
#include "counterspot/straightness.hpp"

namespace counterspot {

/// What a shaft file may say beyond the main job: `[[section]]`, `[[mass]]`, `[[support]]`, `[straightness]`.
struct ShaftDetails {
  Beam beam;              ///< from the sections, masses and supports stated; what is not stated as in beam_of(shaft)
  bool detailed = false;  ///< sections were stated
  std::vector<DialStation> stations;  ///< empty if nothing was read
  StraightnessOptions straightness;
};

/// @param shaft as read from the same file.
/// @throws Error(request, …) as read_shaft does.
ShaftDetails read_shaft_details(const std::filesystem::path& path, const Shaft& shaft);

}  // namespace counterspot
