#include <cmath>

#include "documents/documents.hpp"

namespace counterspot {

std::string one_line(const Json& document) {
  return document.dump(-1, ' ', false, Json::error_handler_t::replace);
}

Json order_json(double order) {
  return order == std::round(order) ? Json(std::llround(order)) : Json(order);
}

}  // namespace counterspot
