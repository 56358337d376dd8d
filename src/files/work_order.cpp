#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <sstream>

#include "files/toml_text.hpp"
#include "files/work_order_section.hpp"

namespace counterspot {

namespace {

/// What is printed on one line of a sheet.
std::string line_in(TomlSection& section, std::string_view key) {
  std::string line = section.text(key).value_or("");
  if (!is_one_line(line)) {
    throw section.bad_value(key, "it holds a control character, such as a tab or the end of a line",
                            "write it in one line, with letters, digits and marks that can be seen");
  }
  return line;
}

constexpr std::array<WorkOrderField, 9> fields{{{"customer", &WorkOrder::customer},
                                                {"number", &WorkOrder::number},
                                                {"part", &WorkOrder::part},
                                                {"serial", &WorkOrder::serial},
                                                {"shop", &WorkOrder::shop},
                                                {"balanced_by", &WorkOrder::balanced_by},
                                                {"inspected_by", &WorkOrder::inspected_by},
                                                {"fixed_by", &WorkOrder::fixed_by},
                                                {"limits_by", &WorkOrder::limits_by}}};

/// The lines of a text but those from one to another, which count from 1.
std::string without_lines(const std::string& text, toml::source_index from, toml::source_index to) {
  std::istringstream lines(text);
  std::string kept;
  std::string line;
  for (toml::source_index number = 1; std::getline(lines, line); ++number)
    if (number < from || number > to) kept += line + "\n";
  return kept;
}

std::string without_order(const std::string& text, const toml::table& file) {
  const toml::node* order = file.get("order");
  if (order == nullptr) return text.empty() || text.back() == '\n' ? text : text + "\n";
  toml::source_index last = order->source().end.line;
  if (const toml::table* section = order->as_table())
    for (const auto& entry : *section) last = std::max(last, entry.second.source().end.line);
  return without_lines(text, order->source().begin.line, last);
}

}  // namespace

std::span<const WorkOrderField> work_order_fields() {
  return fields;
}

bool is_one_line(const std::string& text) {
  const auto is_control = [](unsigned char c) { return c < 0x20 || c == 0x7f; };
  return std::none_of(text.begin(), text.end(), is_control);
}

WorkOrder completed(WorkOrder first, const WorkOrder& second) {
  for (const auto& [key, value] : fields)
    if ((first.*value).empty()) first.*value = second.*value;
  return first;
}

WorkOrder read_work_order(TomlSection& file) {
  auto section = file.section("order");
  if (!section) return {};
  WorkOrder order;
  for (const auto& [key, value] : work_order_fields()) order.*value = line_in(*section, key);
  section->finish();
  return order;
}

WorkOrder work_order_in(const std::string& shaft_text, const std::filesystem::path& path) {
  const toml::table table = parse_toml(shaft_text, path);
  TomlSection file(table, path.string(), FileKind::shaft);
  return read_work_order(file);
}

std::string with_work_order(const std::string& shaft_text, const std::filesystem::path& path, const WorkOrder& stated) {
  if (stated == WorkOrder{}) return shaft_text;
  return with_only_work_order(shaft_text, path, completed(stated, work_order_in(shaft_text, path)));
}

std::string with_only_work_order(const std::string& shaft_text, const std::filesystem::path& path,
                                 const WorkOrder& order) {
  toml::table before = parse_toml(shaft_text, path);
  std::string text = without_order(shaft_text, before) + "[order]\n";
  for (const auto& [key, value] : fields)
    if (!(order.*value).empty()) text += fmt::format("{} = {}\n", key, toml_text(order.*value));
  toml::table after = parse_toml(text, path);
  before.erase("order");
  after.erase("order");
  if (before == after) return text;
  throw Error(Trouble::request, "order_in_pieces",
              fmt::format("{}: [order] is in pieces, so nothing can be added to it", path.string()),
              "write it as one section with its keys below one another");
}

}  // namespace counterspot
