#include "commands/output.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <iostream>
#include <string_view>
#include <system_error>

#include "commands/command.hpp"
#include "counterspot/drawing/command_words.hpp"
#include "report/text.hpp"

namespace counterspot::commands {

namespace {

Error not_printed(int reason) {
  return {Trouble::machine, "write_failed",
          fmt::format("what was found could not be written whole to standard output{}",
                      reason == 0 ? "" : ": " + std::generic_category().message(reason)),
          "make room, or see where it is sent"};
}

/// If standard error takes nothing there is nobody left to tell.
void tell(const std::string& text) {
  static_cast<void>(std::fputs(text.c_str(), stderr));
}

void tell_lines(const std::vector<std::string>& lines) {
  if (lines.empty()) return;
  static_cast<void>(std::fflush(stdout));  // where both go to one place they stand in the order they were said
  for (const std::string& line : lines) tell(line + "\n");
}

}  // namespace

void print(const std::string& text) {
  if (std::fwrite(text.data(), 1, text.size(), stdout) != text.size()) throw not_printed(errno);
}

void finish_output() {
  errno = 0;
  if (std::fflush(stdout) != 0) throw not_printed(errno);
  if (std::ferror(stdout) != 0 || !std::cout) throw not_printed(0);  // earlier, by one who did not look
  const int again = ::dup(STDOUT_FILENO);  // what is only told at closing, as by a file server
  if (again >= 0 && ::close(again) != 0) throw not_printed(errno);
}

void print_json(const Json& document) {
  print(one_line(document) + "\n");
}

void print_error(const Error& error, const Words& words) {
  const LogWords& texts = words.commands().log;
  tell(say(texts.error, refusal_text(error, words)) +
       say(texts.mend, remedy_text(error.code(), error.remedy(), words)));
}

void print_progress(const std::string& message) {
  tell(message + "\n");
}

void print_warning(const std::string& message) {
  tell(fmt::format("warning: {}\n", message));
}

void print_warnings(const Warnings& warnings, const Words& words, const std::vector<std::string>& spins) {
  tell_lines(lines_of(warnings, words, spins));
}

void print_warnings(const std::vector<SaidWarning>& warnings, const Words& words) {
  tell_lines(lines_of(warnings, words));
}

const Words& words_of_locale() {
  for (const char* name : {"LC_ALL", "LC_MESSAGES", "LANG"}) {
    const char* locale = std::getenv(name);  // NOLINT(concurrency-mt-unsafe): before any thread
    if (locale == nullptr || locale[0] == '\0') continue;
    return std::string_view(locale).starts_with(german().language) ? german() : english();
  }
  return english();
}

const Words* words_asked(const std::vector<std::string>& typed) {
  constexpr std::string_view option = "--language";
  for (std::size_t i = 0; i < typed.size(); ++i) {
    const std::string_view argument = typed[i];
    const bool joined = argument.starts_with(option) && argument.substr(option.size()).starts_with('=');
    const std::string_view language = joined                                       ? argument.substr(option.size() + 1)
                                      : argument == option && i + 1 < typed.size() ? std::string_view(typed[i + 1])
                                                                                   : std::string_view();
    for (const Words* words : {&english(), &german()})
      if (language == words->language) return words;
  }
  return nullptr;
}

void add_language_option(CLI::App& command, const Words*& words) {
  words = &words_of_locale();
  command.add_option_function<std::string>(
      "--language", [&words](const std::string& language) { words = &words_in(language); },
      "Of what people read: en or de (default: that of the locale, else en); documents for programs are in English");
}

int for_each_file(const std::vector<std::string>& files, bool json, const Words& words,
                  const std::function<void(const std::string& file)>& work) {
  int worst = 0;
  for (const std::string& file : files) {
    try {
      work(file);
      if (!json && files.size() > 1) print("\n");
    } catch (const Error& error) {
      if (files.size() == 1) throw;
      json ? print_json(document_of(file, error)) : print_error(error, words);
      worst = std::max(worst, static_cast<int>(error.trouble()));
    }
  }
  return worst;
}

}  // namespace counterspot::commands
