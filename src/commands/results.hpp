#pragma once

#include <CLI/CLI.hpp>
#include <filesystem>
#include <string>
#include <vector>

#include "report/results.hpp"

namespace counterspot::commands {

/// What `--out` said.
struct ResultsAsked {
  std::string file;

  explicit operator bool() const { return !file.empty(); }
};

/// Adds `--out`; an ending that says nothing of the form is refused before any work is done.
void add_results_option(CLI::App& command, ResultsAsked& asked);

/// May the results go there? Asked before the work, which may take long. @param read by the same command.
void admit_results(const ResultsAsked& asked, bool replace, const std::vector<std::filesystem::path>& read);

/// What was found, one document or several, in the form that the name says; nothing if there is no name.
template <typename Found>
void write_results(const Found& found, const ResultsAsked& asked, bool replace,
                   const std::vector<std::filesystem::path>& read);

}  // namespace counterspot::commands
