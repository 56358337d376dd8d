#pragma once

#include <string>

namespace counterspot {

/// Why no answer can be given, and what to do about it; both empty where there is one. Who has no answer without it
/// makes it an `Error`.
struct Refusal {
  std::string what;    ///< one sentence
  std::string remedy;  ///< one sentence for the person
};

}  // namespace counterspot
