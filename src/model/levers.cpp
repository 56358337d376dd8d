#include "counterspot/model/shaft.hpp"

#include <cassert>

namespace counterspot {

double lever_to_support(const Supports& supports, const std::string& support, double position_m) {
  assert(supports.a_m != supports.b_m);
  double here = support == "A" ? supports.a_m : supports.b_m;
  double there = support == "A" ? supports.b_m : supports.a_m;
  if (supports.c_m) {
    const bool on_first = (position_m - *supports.c_m) * (supports.a_m - *supports.c_m) > 0.0;
    if (support == "C") {
      here = *supports.c_m;
      there = on_first ? supports.a_m : supports.b_m;
    } else {
      if ((support == "A") != on_first) return 0.0;
      there = *supports.c_m;
    }
  }
  return (there - position_m) / (there - here);
}

}  // namespace counterspot
