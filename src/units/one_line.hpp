#pragma once

#include <nlohmann/json.hpp>
#include <string>

namespace counterspot {

/// A JSON value as text without a line's end, whatever its kind of object. Names that are no UTF-8 (of files, of
/// columns) get U+FFFD where they are not.
template <typename AnyJson = nlohmann::ordered_json>
std::string one_line(const AnyJson& json) {
  return json.dump(-1, ' ', false, AnyJson::error_handler_t::replace);
}

}  // namespace counterspot
