#include "drawing/ink/png.hpp"

#include <png.h>

#include <cmath>
#include <cstring>
#include <string_view>
#include <vector>

#include "counterspot/units/error.hpp"

namespace counterspot {
namespace {

std::vector<png_byte> colours_of(const PixelRows& pixels) {
  std::vector<png_byte> colours;
  colours.reserve(std::size_t{3} * pixels.width * pixels.height);
  for (std::size_t y = 0; y < pixels.height; ++y) {
    for (std::size_t x = 0; x < pixels.width; ++x) {
      std::uint32_t pixel = 0;
      std::memcpy(&pixel, &pixels.bytes[y * pixels.bytes_a_row + x * sizeof pixel], sizeof pixel);
      for (const unsigned shift : {16U, 8U, 0U}) colours.push_back(static_cast<png_byte>(pixel >> shift & 0xFFU));
    }
  }
  return colours;
}

void append_number(std::string& bytes, std::uint32_t number) {
  for (const unsigned shift : {24U, 16U, 8U, 0U}) bytes += static_cast<char>(number >> shift & 0xFFU);
}

/// CRC-32 as PNG, annex D, has it.
std::uint32_t crc_of(std::string_view bytes) {
  std::uint32_t crc = 0xFFFFFFFFU;
  for (const char byte : bytes) {
    crc ^= static_cast<unsigned char>(byte);
    for (int bit = 0; bit < 8; ++bit) crc = (crc & 1U) != 0 ? crc >> 1 ^ 0xEDB88320U : crc >> 1;
  }
  return ~crc;
}

/// Pixels in a metre, both ways (pHYs, PNG 11.3.5.3), which the short way of libpng cannot say.
std::string resolution_chunk(double pixels_per_mm) {
  std::string said = "pHYs";
  for (int way = 0; way < 2; ++way) append_number(said, static_cast<std::uint32_t>(std::lround(1e3 * pixels_per_mm)));
  said += '\1';  // the unit is the metre
  std::string chunk;
  append_number(chunk, static_cast<std::uint32_t>(said.size() - 4));
  chunk += said;
  append_number(chunk, crc_of(said));
  return chunk;
}

}  // namespace

/// Without the filters that help photographs: Cairo's own writer tries them all on every row, which takes more than
/// half of the time of a picture and saves at most a fifth of its bytes.
std::string png_of(const PixelRows& pixels, double pixels_per_mm) {
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  image.width = pixels.width;
  image.height = pixels.height;
  image.format = PNG_FORMAT_RGB;
  image.flags = PNG_IMAGE_FLAG_FAST;
  const std::vector<png_byte> colours = colours_of(pixels);
  png_alloc_size_t size = PNG_IMAGE_PNG_SIZE_MAX(image);
  std::string bytes(size, '\0');
  if (png_image_write_to_memory(&image, bytes.data(), &size, 0, colours.data(), 0, nullptr) == 0) {
    throw Error(Trouble::machine, "drawing_failed", std::string("the picture could not be written: ") + image.message,
                "ask for fewer pixels, or make room in memory");
  }
  bytes.resize(size);
  constexpr std::size_t head = 8 + 25;  // signature and IHDR, PNG 5.2 and 11.2.2
  bytes.insert(head, resolution_chunk(pixels_per_mm));
  return bytes;
}

}  // namespace counterspot
