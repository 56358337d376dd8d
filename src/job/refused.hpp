#pragma once

#include <string>
#include <utility>

#include "counterspot/units/error.hpp"

namespace counterspot {

/// What a person asks of a job or of work on a rig, and it does not take.
inline Error refused(std::string code, const std::string& sentence, std::string remedy) {
  return {Trouble::request, std::move(code), sentence, std::move(remedy)};
}

}  // namespace counterspot
