#pragma once

#include <filesystem>
#include <string>

namespace counterspot {

/// For whom a shaft is balanced, and by whom: `[order]` of a shaft's file, which the sheet shows and nothing reckons
/// with. What nobody stated is empty, and a line to write on.
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

/// That of a shaft's file; empty if it has none. @throws as `read_shaft_text`.
WorkOrder work_order_in(const std::string& shaft_text, const std::filesystem::path& path);

}  // namespace counterspot
