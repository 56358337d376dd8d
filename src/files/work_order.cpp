#include "files/work_order_section.hpp"

#include <algorithm>

namespace counterspot {

namespace {

/// What is printed on one line of a sheet.
std::string line_in(TomlSection& section, std::string_view key) {
  std::string line = section.text(key).value_or("");
  const auto is_control = [](unsigned char c) { return c < 0x20 || c == 0x7f; };
  if (std::any_of(line.begin(), line.end(), is_control)) {
    throw section.bad_value(key, "it holds a control character, such as a tab or the end of a line",
                            "write it in one line, with letters, digits and marks that can be seen");
  }
  return line;
}

}  // namespace

WorkOrder read_work_order(TomlSection& file) {
  auto section = file.section("order");
  if (!section) return {};
  WorkOrder order;
  order.customer = line_in(*section, "customer");
  order.number = line_in(*section, "number");
  order.part = line_in(*section, "part");
  order.serial = line_in(*section, "serial");
  order.shop = line_in(*section, "shop");
  order.balanced_by = line_in(*section, "balanced_by");
  order.inspected_by = line_in(*section, "inspected_by");
  order.fixed_by = line_in(*section, "fixed_by");
  order.limits_by = line_in(*section, "limits_by");
  section->finish();
  return order;
}

WorkOrder work_order_in(const std::string& shaft_text, const std::filesystem::path& path) {
  const toml::table table = parse_toml(shaft_text, path);
  TomlSection file(table, path.string(), FileKind::shaft);
  return read_work_order(file);
}

}  // namespace counterspot
