#pragma once

#include <CLI/CLI.hpp>
#include <string>

#include "counterspot/drawing.hpp"

namespace counterspot::commands {

/// What `--picture` and `--dark` said.
struct PictureAsked {
  std::string file;
  bool dark = false;

  explicit operator bool() const { return !file.empty(); }
};

/// Adds both options; an ending that is no picture's is refused before any work is done.
void add_picture_options(CLI::App& command, PictureAsked& asked, const std::string& of_what);

/// Draws into the file named. @throws Error(machine, "write_failed").
void write_picture(const Picture& picture, const PictureAsked& asked);

/// Writes bytes to a file, whole. @throws Error(machine, "write_failed").
void write_bytes(const std::string& file, const std::string& bytes);

/// One picture is of one recording, which is read twice. @throws Error(request, "picture_of_one").
void refuse_picture_of(const PictureAsked& asked, const std::vector<std::string>& files);

}  // namespace counterspot::commands
