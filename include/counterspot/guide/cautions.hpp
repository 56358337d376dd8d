#pragma once

#include <array>

namespace counterspot {

/// Shown wherever a weight or a spin is asked for: by the commands line by line, by the page as one paragraph.
inline constexpr std::array<const char*, 3> caution_lines = {
    "Guard closed, nobody in the plane of rotation, weights secured against their pull, speed under the safe limit;",
    "weld with the current kept out of bearings and sensors. Road, lifting and passenger use: the responsible",
    "engineer, local rules and the maker decide."};

}  // namespace counterspot
