#pragma once

#include "files/file_keys.hpp"

namespace counterspot {

inline constexpr double endless = std::numeric_limits<double>::infinity();
inline constexpr Range more_than_0{0.0, endless, true};
inline constexpr Range not_negative{0.0, endless, false};
inline constexpr Range a_part{0.0, 1.0, true};

/// How a value is written, and which are taken.
struct WrittenAs {
  Form form = Form::text;
  Dimension dimension = Dimension::fraction;
  Range range = {};
  std::vector<std::string_view> choices = {};
};

/// What then happens: `needed` refuses, `standard` takes a value, and `absent` says in words what is done.
struct LeftOut {
  bool refused = false;
  std::string_view standard = {};
  std::string_view absent = {};
};
inline constexpr LeftOut needed{.refused = true};
constexpr LeftOut standard(std::string_view typed) {
  return {.standard = typed};
}
constexpr LeftOut absent(std::string_view words) {
  return {.absent = words};
}

/// A line of the lists below.
inline FileKey key(std::string_view path, const WrittenAs& written, const LeftOut& left_out, std::string_view effect,
                   std::string_view example = {}) {
  return {path,
          written.form,
          written.dimension,
          written.range,
          written.choices,
          left_out.refused,
          left_out.standard,
          left_out.absent,
          example,
          effect};
}

std::vector<FileKey> rig_keys();
std::vector<FileKey> shaft_keys();
std::vector<FileKey> spins_keys();
std::vector<FileKey> stock_keys();
std::vector<FileKey> shop_keys();
/// `[order]` of any file.
std::vector<FileKey> order_keys();

extern const FileAbout about_rig;
extern const FileAbout about_shaft;
extern const FileAbout about_spins;
extern const FileAbout about_stock;
extern const FileAbout about_shop;

}  // namespace counterspot
