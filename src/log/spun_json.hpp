#pragma once

#include <nlohmann/json.hpp>

#include "counterspot/job/job.hpp"

namespace counterspot {

/// A spin and its pieces as export and records keep them; every number comes back bit for bit.
/// @throws nlohmann::json::exception, Error(request, "bad_log_line").
nlohmann::ordered_json spun_json(const Spun& spun);
Spun spun_in(const nlohmann::ordered_json& json);
nlohmann::ordered_json pieces_json(const std::vector<FittedWeight>& pieces);
std::vector<FittedWeight> pieces_in(const nlohmann::ordered_json& json);

}  // namespace counterspot
