#pragma once

#include <span>
#include <string_view>

namespace counterspot {

/// A sentence of `--help`, as the command that has it writes it, and what is said for it in German.
struct HelpWords {
  std::string_view english;
  std::string_view german;
};

/// One row for each sentence there is; a test holds it against the `--help` of every command.
std::span<const HelpWords> german_help();

/// Empty for a sentence that has no row.
std::string_view german_help(std::string_view english);

}  // namespace counterspot
