#pragma once

#include <string_view>

namespace counterspot {

struct GermanRefusal {
  std::string_view code;
  std::string_view what;
  std::string_view remedy;
};
/// Of what is refused, by its code; empty if the code is none of these.
GermanRefusal german_refusal(std::string_view code);
/// Its parts: of recordings and what is measured in them; of what is written by hand, asked for and kept.
GermanRefusal german_refusal_of_recording(std::string_view code);
GermanRefusal german_refusal_of_request(std::string_view code);

}  // namespace counterspot
