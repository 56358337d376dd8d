#include "counterspot/guide/taken_off.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <functional>

#include "counterspot/units/error.hpp"

namespace counterspot {

std::vector<FittedWeight> without_numbers(std::vector<FittedWeight> on, std::vector<int> off) {
  std::sort(off.begin(), off.end(), std::greater<>());  // from behind, so that the numbers before stay
  off.erase(std::unique(off.begin(), off.end()), off.end());
  for (const int number : off) {
    if (number < 1 || number > static_cast<int>(on.size()))
      throw Error(Trouble::request, "no_such_piece", fmt::format("there is no weight {} on the shaft", number),
                  fmt::format("the weights are 1 to {}, in the order of 'job show'", on.size()));
    on.erase(on.begin() + (number - 1));
  }
  return on;
}

}  // namespace counterspot
