#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "counterspot/rig_model/rig_model.hpp"

namespace counterspot {

/// To be raised when the same jobs teach other numbers than before, so that nothing older is taken for them.
inline constexpr int rig_learning_version = 3;

/// What was learnt of a rig as JSON; every number comes back bit for bit.
std::string rig_model_to_json(const RigModel& model);
/// One lesson, the same way. @throws nlohmann::json::exception.
nlohmann::ordered_json rig_lesson_json(const RigLesson& lesson);
RigLesson rig_lesson_in(const nlohmann::ordered_json& json);
/// @throws Error(request, "bad_rig_model").
RigModel rig_model_of_json(const std::string& text);

}  // namespace counterspot
