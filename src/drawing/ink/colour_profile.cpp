#include "drawing/ink/colour_profile.hpp"

#include <array>
#include <cmath>
#include <cstdint>
#include <initializer_list>
#include <string_view>
#include <utility>
#include <vector>

namespace counterspot {

namespace {

// sRGB's primaries, IEC 61966-2-1, 4.1, carried from its white D65 to D50, the white of profiles, by the Bradford
// matrix (ISO 15076-1, annex E). What follows of them is worked out in tests/drawing/pdf_test.py.
using Xyz = std::array<double, 3>;
constexpr Xyz d50{0.9642, 1.0, 0.8249};
constexpr Xyz red{0.436041, 0.222485, 0.013920};
constexpr Xyz green{0.385113, 0.716905, 0.097067};
constexpr Xyz blue{0.143046, 0.060610, 0.713913};
constexpr std::initializer_list<double> d65_to_d50{1.047886,  0.022919,  -0.050216, 0.029582, 0.990484,
                                                   -0.017079, -0.009252, 0.015073,  0.751678};
// Exponent, and the pieces of the curve that it stands in: IEC 61966-2-1, 5.2; the function is ISO 15076-1, 10.18,
// type 3.
constexpr std::initializer_list<double> curve{2.4, 1.0 / 1.055, 0.055 / 1.055, 1.0 / 12.92, 0.04045};

void add_whole(std::string& bytes, std::uint32_t number, int size = 4) {
  for (int shift = 8 * (size - 1); shift >= 0; shift -= 8) bytes += static_cast<char>(number >> shift & 0xFFU);
}

/// With sixteen bits behind the point (ISO 15076-1, 4.6).
void add_fraction(std::string& bytes, double number) {
  add_whole(bytes, static_cast<std::uint32_t>(static_cast<std::int32_t>(std::lround(65536.0 * number))));
}

std::string element(std::string_view type) {
  return std::string(type) + std::string(4, '\0');
}

std::string xyz_element(const Xyz& place) {
  std::string bytes = element("XYZ ");
  for (const double each : place) add_fraction(bytes, each);
  return bytes;
}

std::string text_element(std::string_view text) {
  std::string bytes = element("mluc");
  add_whole(bytes, 1);
  add_whole(bytes, 12);
  bytes += "enUS";
  add_whole(bytes, static_cast<std::uint32_t>(2 * text.size()));
  add_whole(bytes, 28);
  for (const char letter : text) bytes += {'\0', letter};
  return bytes;
}

std::string numbers_element(std::string head, std::initializer_list<double> numbers) {
  for (const double each : numbers) add_fraction(head, each);
  return head;
}

/// All that stands before the table of tags.
std::string profile_head(std::uint32_t size) {
  std::string bytes;
  add_whole(bytes, size);
  add_whole(bytes, 0);
  add_whole(bytes, 0x04200000U);
  bytes += "mntrRGB XYZ ";
  for (const std::uint32_t part : {2026U, 1U, 1U, 0U, 0U, 0U}) add_whole(bytes, part, 2);
  bytes += "acsp";
  bytes.resize(68, '\0');
  for (const double each : d50) add_fraction(bytes, each);
  bytes.resize(128, '\0');
  return bytes;
}

}  // namespace

std::string srgb_profile() {
  const std::string tone = numbers_element(element("para") + std::string("\0\3\0\0", 4), curve);
  const std::vector<std::pair<std::string_view, std::string>> tags{
      {"desc", text_element("sRGB (IEC 61966-2-1)")},
      {"cprt", text_element("no copyright, use freely")},
      {"wtpt", xyz_element(d50)},
      {"chad", numbers_element(element("sf32"), d65_to_d50)},
      {"rXYZ", xyz_element(red)},
      {"gXYZ", xyz_element(green)},
      {"bXYZ", xyz_element(blue)},
      {"rTRC", tone},
      {"gTRC", tone},
      {"bTRC", tone}};
  const std::size_t table_end = 128 + 4 + 12 * tags.size();
  std::string table;
  std::string data;
  add_whole(table, static_cast<std::uint32_t>(tags.size()));
  for (const auto& [name, bytes] : tags) {
    table += name;
    add_whole(table, static_cast<std::uint32_t>(table_end + data.size()));
    add_whole(table, static_cast<std::uint32_t>(bytes.size()));
    data += bytes;
    data.resize((data.size() + 3) / 4 * 4, '\0');
  }
  return profile_head(static_cast<std::uint32_t>(table_end + data.size())) + table + data;
}

}  // namespace counterspot
