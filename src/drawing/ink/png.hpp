#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <string>

namespace counterspot {

/// Pixels as they lie in memory: rows from the top, 0x00RRGGBB in the machine's own order of bytes.
struct PixelRows {
  std::span<const unsigned char> bytes;
  std::uint32_t width = 0;
  std::uint32_t height = 0;
  std::size_t bytes_a_row = 0;
};

/// The bytes of a PNG (ISO/IEC 15948), 8-bit sRGB, that says how large it is. @throws Error(machine,
/// "drawing_failed").
std::string png_of(const PixelRows& pixels, double pixels_per_mm);

}  // namespace counterspot
