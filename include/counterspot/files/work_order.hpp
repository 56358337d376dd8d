#pragma once

#include <filesystem>
#include <span>
#include <string>

namespace counterspot {

/// For whom a shaft is balanced, and by whom: `[order]` of a shaft's or a spins file, which the sheet shows and nothing
/// reckons with. What nobody stated is empty, and a line to write on.
struct WorkOrder {
  std::string customer;
  std::string number;  ///< of the order
  std::string part;
  std::string serial;
  std::string shop;
  std::string balanced_by;
  std::string inspected_by;
  std::string fixed_by;   ///< how weights are held: "welded", "screwed"
  std::string limits_by;  ///< who set limits that are typed
  bool operator==(const WorkOrder&) const = default;
};

/// A key of `[order]`, and what it fills.
struct WorkOrderField {
  const char* key;
  std::string WorkOrder::*value;
};
std::span<const WorkOrderField> work_order_fields();

/// What is stated in the first, and what only the second states.
WorkOrder completed(WorkOrder first, const WorkOrder& second);

/// Whether it can stand on one line of a sheet: no control character, such as a tab, is in it.
bool is_one_line(const std::string& text);

/// That of a shaft's file; empty if it has none. @throws as `read_shaft_text`.
WorkOrder work_order_in(const std::string& shaft_text, const std::filesystem::path& path);

/// A shaft's text with what is stated in its `[order]`, which is then the last of its sections; what is not stated
/// stays as the text has it. @throws also Error(request, "order_in_pieces") if that section is in pieces.
std::string with_work_order(const std::string& shaft_text, const std::filesystem::path& path, const WorkOrder& stated);

}  // namespace counterspot
