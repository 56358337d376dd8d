#include "counterspot/files/shaft_copy.hpp"

#include <sstream>

#include "counterspot/units/error.hpp"
#include "files/text_place.hpp"
#include "files/work_order_section.hpp"

namespace counterspot {

namespace {

/// As a basic string of TOML.
std::string written(const std::string& id) {
  std::ostringstream text;
  text << toml::value<std::string>(id);
  return text.str();
}

std::string with_id(std::string text, const std::filesystem::path& path, const std::string& id) {
  toml::table wanted = parse_toml(text, path);
  if (const auto place = place_of_value(text, "shaft", "id")) {
    text.replace(place->first, place->second, written(id));
    wanted["shaft"].as_table()->insert_or_assign("id", id);
    if (parse_toml(text, path) == wanted) return text;
  }
  throw Error(Trouble::request, "copy_id", path.string() + ": the shaft's id cannot be replaced where it stands",
              "copy the file by hand, and write the new id into it");
}

}  // namespace

std::string copied_shaft(const std::string& shaft_text, const std::filesystem::path& path, const std::string& id) {
  WorkOrder order = work_order_in(shaft_text, path);
  const bool stated = order != WorkOrder{};
  order.serial.clear();
  order.inspected_by.clear();
  order.fixed_by.clear();
  const std::string text = with_id(shaft_text, path, id);
  return stated ? with_only_work_order(text, path, order) : text;
}

}  // namespace counterspot
