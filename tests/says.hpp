#pragma once

#include <algorithm>

#include "counterspot/units/warning.hpp"

namespace counterspot::test {

inline bool says(const Warnings& warnings, WarningCode code) {
  return std::any_of(warnings.begin(), warnings.end(), [&](const Warning& warning) { return warning.code == code; });
}

/// What was found, with what was noticed in it.
template <typename Found>
bool says(const Found& found, WarningCode code) {
  return says(found.warnings, code);
}

}  // namespace counterspot::test
