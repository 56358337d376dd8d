#pragma once

#include <string>

namespace counterspot {

/// The bytes of an ICC profile (ISO 15076-1, version 4.2) of sRGB (IEC 61966-2-1), in which every drawing's colours
/// are.
std::string srgb_profile();

}  // namespace counterspot
