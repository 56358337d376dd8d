#pragma once

#include <fmt/format.h>

#include <string>

#include "counterspot/units/error.hpp"

namespace counterspot {

// In a header, for the libraries that read some of these files are loaded by themselves.

inline Error damaged_head(const std::string& file) {
  return {Trouble::recording, "bad_header", fmt::format("the header of {} is damaged or cut short", file),
          "copy the recording again from where it was made, or record the spin again"};
}

inline Error unreadable_array(const std::string& file, const std::string& array) {
  return {Trouble::recording, "unreadable", fmt::format("{}: '{}' is damaged", file, array),
          "copy the recording again from where it was made, or record the spin again"};
}

}  // namespace counterspot
