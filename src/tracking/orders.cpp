#include "tracking/orders.hpp"

#include <algorithm>
#include <cmath>

#include "counterspot/units/error.hpp"

namespace counterspot {

std::vector<double> sorted(std::vector<double> orders) {
  std::sort(orders.begin(), orders.end());
  return orders;
}

bool are_whole(const std::vector<double>& orders) {
  return std::all_of(orders.begin(), orders.end(), [](double k) { return k == std::round(k); });
}

void check_orders(const std::vector<double>& orders) {
  constexpr double rounding = 1e-9;
  const std::vector<double> in_order = sorted(orders);
  const bool repeats = std::adjacent_find(in_order.begin(), in_order.end()) != in_order.end();
  const bool in_steps = std::all_of(orders.begin(), orders.end(), [](double k) {
    return std::abs(1000.0 * k - std::round(1000.0 * k)) < rounding * (1.0 + std::abs(k));
  });
  if (orders.empty() || repeats || !in_steps || !(in_order.front() >= 0.1) || !(in_order.back() <= 100.0)) {
    throw Error(Trouble::request, "bad_orders",
                "the orders to track must be different numbers from 0.1 to 100, of three decimals at most",
                "give them as a list such as 1,2,3 or 0.5,1,2");
  }
}

}  // namespace counterspot
