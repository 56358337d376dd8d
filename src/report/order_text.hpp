#pragma once

#include <string>
#include <utility>
#include <vector>

#include "counterspot/drawing/words.hpp"
#include "counterspot/files/work_order.hpp"

namespace counterspot {

/// What an order states and does not, each with its name, in the order of its keys.
std::vector<std::pair<std::string, std::string>> named_fields(const WorkOrder& order, const Words& words);
/// "customer: Marrow Creek", of what is stated.
std::vector<std::string> lines_of(const WorkOrder& order, const Words& words);

}  // namespace counterspot
