#pragma once

#include <CLI/CLI.hpp>
#include <filesystem>
#include <string>
#include <vector>

#include "counterspot/drawing/drawing.hpp"
#include "counterspot/drawing/titled.hpp"
#include "counterspot/files/files.hpp"
#include "files/output_file.hpp"

namespace counterspot::commands {

/// What `--picture`, `--dark`, `--language` and `--replace` said.
struct PictureAsked {
  std::string file;
  const Words* words = &english();
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

/// Draws into the file named, under a line that says what it is of.
/// @param read by the same command: the day of the newest of them is said too, unless they are a log. @throws as
/// write_output.
void write_picture(const Picture& picture, PictureOf of, const PictureAsked& asked,
                   std::vector<std::filesystem::path> read);

/// What a picture of a recording is of.
PictureOf picture_of(const Rig& rig, std::optional<double> speed_rad_s = {});

/// One picture is of one recording, which is read twice. @throws Error(request, "picture_of_one").
void refuse_picture_of(const PictureAsked& asked, const std::vector<std::string>& files);

}  // namespace counterspot::commands
