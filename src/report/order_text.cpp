#include "report/order_text.hpp"

namespace counterspot {

std::vector<std::pair<std::string, std::string>> named_fields(const WorkOrder& order, const Words& words) {
  return {{words.customer, order.customer},
          {words.order_number, order.number},
          {words.part, order.part},
          {words.serial, order.serial},
          {words.shop, order.shop},
          {words.balanced_by, order.balanced_by},
          {words.inspected_by, order.inspected_by},
          {words.fixed_by, order.fixed_by},
          {words.set_by, order.limits_by}};
}

std::vector<std::string> lines_of(const WorkOrder& order, const Words& words) {
  std::vector<std::string> lines;
  for (const auto& [name, value] : named_fields(order, words))
    if (!value.empty()) lines.push_back(name + ": " + value);
  return lines;
}

}  // namespace counterspot
