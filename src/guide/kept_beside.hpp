#pragma once

#include <filesystem>

namespace counterspot {

/// Where what was told of a file that is to be is kept: "rig.setup.json" beside rig.toml.
inline std::filesystem::path kept_beside(std::filesystem::path file) {
  return file.replace_extension(".setup.json");
}

}  // namespace counterspot
