#include <fftw3.h>
#include <fmt/format.h>
#include <nettle/version.h>
#include <sndfile.h>
#include <soci/version.h>
#include <sqlite3.h>
#include <toml++/toml.h>
#include <CLI/CLI.hpp>
#include <Eigen/Core>
#include <nlohmann/json.hpp>

#include <string_view>

#include "commands/command.hpp"
#include "counterspot/commit.hpp"
#include "counterspot/version.hpp"

namespace counterspot::commands {

std::string version_text() {
  const std::string built_from = std::string_view(commit).empty() ? "" : fmt::format("commit {}\n", commit);
  return fmt::format("counterspot {}\n{}with {}", version, built_from, libraries_text());
}

std::string libraries_text() {
  return fmt::format(
      "{}, {}, SQLite {}, SOCI {}.{}.{}, nettle {}.{}, Eigen {}.{}.{}, fmt {}.{}.{}, JSON "
      "{}.{}.{}, "
      "toml++ {}.{}.{}, CLI11 {}",
      sf_version_string(), fftw_version, sqlite3_libversion(), SOCI_VERSION / 100000, SOCI_VERSION / 100 % 1000,
      SOCI_VERSION % 100, nettle_version_major(), nettle_version_minor(), EIGEN_WORLD_VERSION, EIGEN_MAJOR_VERSION,
      EIGEN_MINOR_VERSION, FMT_VERSION / 10000, FMT_VERSION / 100 % 100, FMT_VERSION % 100, NLOHMANN_JSON_VERSION_MAJOR,
      NLOHMANN_JSON_VERSION_MINOR, NLOHMANN_JSON_VERSION_PATCH, TOML_LIB_MAJOR, TOML_LIB_MINOR, TOML_LIB_PATCH,
      CLI11_VERSION);
}

}  // namespace counterspot::commands
