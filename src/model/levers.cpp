#include <cassert>

#include "counterspot/model/shaft.hpp"

namespace counterspot {

std::vector<Support> supports_of(const Supports& supports) {
  return supports.c_m ? std::vector{Support::a, Support::c, Support::b} : std::vector{Support::a, Support::b};
}

double lever_to_support(const Supports& supports, Support support, double position_m) {
  assert(supports.a_m != supports.b_m);
  double here = support == Support::a ? supports.a_m : supports.b_m;
  double there = support == Support::a ? supports.b_m : supports.a_m;
  if (supports.c_m) {
    const bool on_first = (position_m - *supports.c_m) * (supports.a_m - *supports.c_m) > 0.0;
    if (support == Support::c) {
      here = *supports.c_m;
      there = on_first ? supports.a_m : supports.b_m;
    } else {
      if ((support == Support::a) != on_first) return 0.0;
      there = *supports.c_m;
    }
  }
  return (there - position_m) / (there - here);
}

}  // namespace counterspot
