#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/files/work_order.hpp"
#include "counterspot/influence/influence.hpp"
#include "counterspot/model/rig.hpp"
#include "counterspot/model/shaft.hpp"

namespace counterspot {

/// The TOML files a person writes. Paths in a file are relative to that file. Unknown keys are errors (a typo must not
/// pass).
/// @throws Error(request, …) with file and line: "not_found", "bad_toml", "missing_key", "unknown_key", "bad_value",
/// "bad_quantity".
Rig read_rig(const std::filesystem::path& path);
Shaft read_shaft(const std::filesystem::path& path);
/// The same of a file's text as it was kept; `path` is where it was, for messages and for the paths in it.
Rig read_rig_text(const std::string& text, const std::filesystem::path& path);
Shaft read_shaft_text(const std::string& text, const std::filesystem::path& path);
/// The same of a job that is under way: what an earlier version took is not refused, but cannot end in `within`.
Shaft kept_shaft(const std::string& text, const std::filesystem::path& path);

/// One `[[spin]]`: recorded or typed.
struct SpinEntry {
  std::string label;
  std::filesystem::path recording;    ///< empty if typed
  std::vector<TypedVector> typed;     ///< one per sensor, in the rig's order; empty if recorded
  std::optional<double> speed_rad_s;  ///< of typed vectors
  std::vector<FittedWeight> fitted;
  std::optional<double> turned_rad = {};  ///< the shaft's mark from the adapters' mark, against the rotation
};

struct SpinSet {
  std::filesystem::path rig_path;
  std::filesystem::path shaft_path;
  Rig rig;
  Shaft shaft;
  std::vector<SpinEntry> spins;
  WorkOrder order = {};  ///< of this file; what it does not state, of the shaft's
};
SpinSet read_spins(const std::filesystem::path& path);

}  // namespace counterspot
