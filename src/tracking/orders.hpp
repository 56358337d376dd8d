#pragma once

#include <vector>

#include "counterspot/units/angle.hpp"

namespace counterspot {

/// @throws Error(request, "bad_orders") unless they are different, from 0.1 to 100, and whole thousandths.
void check_orders(const std::vector<double>& orders);

/// The angle after which every order in thousandths begins anew: angles may be taken modulo it.
inline constexpr double orders_begin_anew_rad = 1000.0 * turn_rad;

std::vector<double> sorted(std::vector<double> orders);
bool are_whole(const std::vector<double>& orders);

}  // namespace counterspot
