#pragma once

#include <string>
#include <string_view>

#include "counterspot/placement/shop_words.hpp"
#include "counterspot/tolerance/tolerance.hpp"

namespace counterspot {

/// "g·mm", "oz·in".
std::string_view unbalance_unit(UnitSystem units);
/// In that unit.
double unbalance_in(UnitSystem units, double unbalance_kg_m);

/// "38.4 ± 1.4 g·mm"; without the ± where no uncertainty is known (0).
std::string unbalance_text(double value_kg_m, double expanded_kg_m, UnitSystem units);
/// "348 g·mm": an unbalance that is not measured.
std::string unbalance_text(double value_kg_m, UnitSystem units);

/// A residual and the limit it is held against, as people read them.
struct HeldText {
  std::string residual;  ///< "38.07 ± 0.96"
  std::string limit;     ///< "39.40": with the residual's decimals
};
/// Rounded so that the numbers shown do not contradict the verdict: where two digits in the ± would, there are more.
HeldText held_text(const Held& held, UnitSystem units);

}  // namespace counterspot
