#pragma once

#include "files/file_keys.hpp"

namespace counterspot {

inline constexpr double endless = std::numeric_limits<double>::infinity();
inline constexpr Range more_than_0{0.0, endless, true};
inline constexpr Range not_negative{0.0, endless, false};
inline constexpr Range a_part{0.0, 1.0, true};

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
