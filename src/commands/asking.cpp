#include "commands/asking.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <iostream>

#include "commands/output.hpp"
#include "counterspot/units/error.hpp"
#include "files/output_file.hpp"

namespace counterspot::commands {

namespace {

bool at_a_terminal() {
  return isatty(STDIN_FILENO) == 1;
}

std::string question_text(const FileQuestion& question, const Words& words) {
  std::string text = question.words.in(words.language);
  if (!question.help.empty()) text += "\n  " + question.help.in(words.language);
  if (!question.standard.empty()) text += " [" + question.standard + "]";
  return text;
}

/// A line; empty where standard input has ended: nothing was answered.
std::optional<std::string> answered_line() {
  std::string line;
  if (!std::getline(std::cin, line)) return std::nullopt;
  const auto from = line.find_first_not_of(" \t\r");
  return from == std::string::npos ? "" : line.substr(from, line.find_last_not_of(" \t\r") - from + 1);
}

Error not_answered(const FileQuestion& question) {
  return {Trouble::request, "no_answer", fmt::format("'{}' is not answered: {}", question.key, question.words.en),
          fmt::format("type it as the next line, or give --{}", question.key)};
}

/// One answer; empty: there is none.
std::string answer_of(const FileQuestion& question, const Interview& interview, const Words& words) {
  for (;;) {
    print_progress(question_text(question, words));
    const auto line = answered_line();
    const std::string answer = line.value_or("").empty() ? question.standard : *line;
    if (answer.empty() && (question.optional || !line || !at_a_terminal())) {
      if (question.optional) return "";
      throw not_answered(question);
    }
    if (answer.empty()) continue;
    try {
      interview.check(question.key, answer);
      return answer;
    } catch (const Error& error) {
      if (!at_a_terminal()) throw;
      print_error(error, words);
    }
  }
}

}  // namespace

Said option_help(const FileQuestion& question) {
  if (question.help.empty()) return question.words;
  return {question.words.en + " (" + question.help.en + ")", question.words.de + " (" + question.help.de + ")"};
}

void admit_new_file(const std::filesystem::path& file) {
  try {
    admit_output(file, {});
  } catch (const Error& error) {
    if (error.code() != "file_exists") throw;
    throw Error(Trouble::request, "own_file", error.what(), "write another name: --out NAME.toml");
  }
}

std::string written_text(const std::string& file, const Words& words) {
  return said({"{}: written. Read it: each line says how it was found.\n",
               "{}: geschrieben. Lesen: jede Zeile sagt, woher sie kommt.\n"},
              file)
      .in(words.language);
}

void add_answer_options(CLI::App& command, const std::vector<FileQuestion>& questions, FileAnswers& answers) {
  for (const FileQuestion& question : questions) {
    command
        .add_option_function<std::vector<std::string>>(
            "--" + question.key,
            [&answers, key = question.key](const std::vector<std::string>& typed) { answers[key] = typed; },
            option_help(question).en)
        ->allow_extra_args(false)
        ->take_all();
  }
}

void ask_rest(FileAnswers& answers, const Interview& interview, const Words& words) {
  for (const auto& [key, typed] : answers)
    for (const std::string& answer : typed) interview.check(key, answer);
  while (const auto question = interview.next(answers)) {
    std::vector<std::string>& given = answers[question->key];
    for (;;) {
      const std::string answer = answer_of(*question, interview, words);
      if (answer.empty()) break;
      given.push_back(answer);
      if (!question->repeated) break;
    }
  }
}

}  // namespace counterspot::commands
