#pragma once

#include <string>
#include <vector>

namespace counterspot {

/// Of planes, sensors and whatever else has a name, in their order.
template <typename Named>
std::vector<std::string> names_of(const std::vector<Named>& all) {
  std::vector<std::string> names;
  for (const Named& each : all) names.push_back(each.name);
  return names;
}

}  // namespace counterspot
