#pragma once

#include <string_view>

namespace counterspot {

struct GermanRefusal {
  std::string_view code;
  std::string_view what;
  std::string_view remedy;
};
/// Of what an operator is refused at the page, in a job and in work on a rig; empty if the code is another.
GermanRefusal german_refusal(std::string_view code);

}  // namespace counterspot
