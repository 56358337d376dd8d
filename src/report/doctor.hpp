#pragma once

#include <string>
#include <vector>

#include "counterspot/drawing/words.hpp"
#include "counterspot/guide/doctor.hpp"
#include "report/json.hpp"

namespace counterspot {

/// What the doctor found, for programs; its sentences are in English.
Json document_of(const std::vector<Examined>& all);

/// A part on a line, what is to be mended with its remedy, and the next action last.
std::string doctor_text(const std::vector<Examined>& all, const Words& words);

}  // namespace counterspot
