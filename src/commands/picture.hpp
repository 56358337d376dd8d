#pragma once

#include <CLI/CLI.hpp>
#include <filesystem>
#include <string>
#include <vector>

#include "counterspot/drawing/drawing.hpp"
#include "counterspot/files/files.hpp"
#include "files/output_file.hpp"

namespace counterspot::commands {

/// What `--picture`, `--dark` and `--replace` said.
struct PictureAsked {
  std::string file;
  bool dark = false;
  bool replace = false;

  explicit operator bool() const { return !file.empty(); }
};

/// Adds these options; an ending that is no picture's is refused before any work is done.
void add_picture_options(CLI::App& command, PictureAsked& asked, const std::string& of_what);

/// What a person asked with `--replace`: to write over what is there, whatever it is.
void add_replace_option(CLI::App& command, bool& replace);

/// What is drawn can be drawn again, so that one drawing replaces another unasked.
OutputRules drawing_rules(bool replace, std::vector<std::filesystem::path> read);

/// A spin file with all files that it names.
std::vector<std::filesystem::path> files_of_spins(const std::string& spins, const SpinSet& set);

/// Draws into the file named. @param read by the same command. @throws as write_output.
void write_picture(const Picture& picture, const PictureAsked& asked, std::vector<std::filesystem::path> read);

/// One picture is of one recording, which is read twice. @throws Error(request, "picture_of_one").
void refuse_picture_of(const PictureAsked& asked, const std::vector<std::string>& files);

}  // namespace counterspot::commands
