#pragma once

#include <CLI/CLI.hpp>
#include <string>
#include <vector>

#include "counterspot/drawing/words.hpp"

namespace counterspot::commands {

/// Whether what is typed asks for help.
bool asks_for_help(const std::vector<std::string>& typed);

/// Help takes `--language` also where the command has no such option.
std::vector<std::string> without_language(const std::vector<std::string>& typed);

/// `--language` before the command is as good as behind it: put behind it.
std::vector<std::string> language_last(std::vector<std::string> typed);

/// Puts the help of a program and of all its commands into another language: every description and every sentence of a
/// footer by the table of help, what CLI11 says by itself here.
void say_help_in(CLI::App& program, const Words& words);

}  // namespace counterspot::commands
