#include "commands/help_language.hpp"

#include <algorithm>
#include <sstream>

#include "commands/asking.hpp"
#include "drawing/help_words_de.hpp"
#include "report/text.hpp"

namespace counterspot::commands {

namespace {

constexpr std::string_view language_option = "--language";

/// By the table, or a question's own words; as it stands where there is neither.
std::string german_of(const std::string& english) {
  if (const std::string_view german = german_help(english); !german.empty()) return std::string(german);
  for (const auto& questions : {shaft_questions(), stock_questions()})
    for (const FileQuestion& question : questions)
      if (const Said help = option_help(question); help.en == english) return help.de;
  return english;
}

/// Line by line; an example is indented and stays. The cautions have a table of their own.
std::string german_footer(std::string footer) {
  const auto without_end = [](std::string text) { return text.substr(0, text.find_last_not_of('\n') + 1); };
  const std::string in_english = without_end(cautions());
  if (const auto at = footer.find(in_english); at != std::string::npos)
    footer.replace(at, in_english.size(), without_end(cautions(german())));
  std::istringstream lines(footer);
  std::string text;
  for (std::string line; std::getline(lines, line);) text += german_of(line) + "\n";
  text.resize(std::min(text.size(), text.find_last_not_of('\n') + 1));
  return text;
}

/// What CLI11 prints between the descriptions.
void label_in_german(CLI::FormatterBase& formatter) {
  static constexpr std::pair<const char*, const char*> labels[] = {
      {"Usage", "Aufruf"},   {"OPTIONS", "OPTIONEN"}, {"SUBCOMMAND", "BEFEHL"},  {"SUBCOMMANDS", "BEFEHLE"},
      {"REQUIRED", "NÖTIG"}, {"Needs", "nur mit"},    {"Excludes", "nicht mit"}, {"Positionals", "Argumente"},
      {"INT", "ZAHL"},       {"UINT", "ZAHL"},        {"FLOAT", "ZAHL"}};
  for (const auto& [english, german] : labels) formatter.label(english, german);
}

void say_in_german(CLI::App& command) {
  label_in_german(*command.get_formatter());
  command.description(german_of(command.get_description()));
  command.footer(german_footer(command.get_footer()));
  for (CLI::Option* option : command.get_options()) {
    option->description(german_of(option->get_description()));
    if (option->get_group() == "Options") option->group("Optionen");
  }
  for (CLI::App* step : command.get_subcommands({})) {
    say_in_german(*step);
    step->group("Befehle");
  }
}

}  // namespace

bool asks_for_help(const std::vector<std::string>& typed) {
  return std::ranges::any_of(typed, [](const std::string& word) { return word == "--help" || word == "-h"; });
}

std::vector<std::string> language_last(std::vector<std::string> typed) {
  if (typed.empty() || !typed.front().starts_with(language_option)) return typed;
  const bool joined = typed.front().size() > language_option.size();
  const auto after = typed.begin() + std::min<std::ptrdiff_t>(joined ? 1 : 2, std::ssize(typed));
  std::rotate(typed.begin(), after, typed.end());
  return typed;
}

std::vector<std::string> without_language(const std::vector<std::string>& typed) {
  std::vector<std::string> rest;
  for (std::size_t i = 0; i < typed.size(); ++i) {
    if (typed[i] == language_option)
      ++i;  // and its value
    else if (!typed[i].starts_with(std::string(language_option) + "="))
      rest.push_back(typed[i]);
  }
  return rest;
}

void say_help_in(CLI::App& program, const Words& words) {
  if (&words == &german()) say_in_german(program);
}

}  // namespace counterspot::commands
