#pragma once

#include <CLI/CLI.hpp>
#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/drawing/words.hpp"
#include "counterspot/files/new_files.hpp"

namespace counterspot::commands {

/// What the help says of the option of a question.
Said option_help(const FileQuestion& question);

/// What a person may have changed since is never written over. @throws Error(request, "own_file"), else as
/// admit_output.
void admit_new_file(const std::filesystem::path& file);

/// An option for each question; what is typed there is not asked.
void add_answer_options(CLI::App& command, const std::vector<FileQuestion>& questions, FileAnswers& answers);

/// That a new file is there, and how to read it.
std::string written_text(const std::string& file, const Words& words);

struct Interview {
  std::function<std::optional<FileQuestion>(const FileAnswers&)> next;
  std::function<void(const std::string& key, const std::string& answer)> check;
};
/// Asks for the rest, one question at a time: on standard error, answered by a line of standard input. At a terminal
/// what is no answer is asked again; a pipe that says so is refused. Where standard input ends, what may be left out
/// is.
/// @throws Error(request, …) "no_answer", and what `check` throws.
void ask_rest(FileAnswers& answers, const Interview& interview, const Words& words);

}  // namespace counterspot::commands
