#pragma once

#include <string>
#include <vector>

#include "counterspot/guide/rig_teaching.hpp"
#include "report/json.hpp"

namespace counterspot {

/// What the owner should look at: jobs that do not fit, sensors that read otherwise since, pedestals that have drifted;
/// a sentence each.
std::vector<std::string> sentences_of(const RigShown& shown);

/// "good", "fair", "unknown".
const char* reach_name(const Reach& reach);

Json document_of(const RigShown& shown);
Json document_of(const SpeedAdvice& advice);

}  // namespace counterspot
