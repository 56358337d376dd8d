#pragma once

#include <nlohmann/json.hpp>

#include "counterspot/error.hpp"
#include "counterspot/job.hpp"
#include "counterspot/warning.hpp"

namespace counterspot {

/// What command line and page say alike of trouble and of what is held against its limit.
using Json = nlohmann::ordered_json;

Json json_of(const Warnings& warnings);
Json json_of(const std::vector<SaidReason>& held_back);
Json json_of(const Error& error);
/// A finding's places, each with its residual and limit.
Json held_of(const Finding& finding);

}  // namespace counterspot
