#include "commands/output.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <cstdio>

#include "counterspot/cautions.hpp"
#include "counterspot/words.hpp"

namespace counterspot::commands {

std::string cautions() {
  return fmt::format("CAUTION  {}\n", fmt::join(caution_lines, "\n         "));
}

void print(const std::string& text) {
  fmt::print("{}", text);
}

void print_json(const Json& document) {
  fmt::print("{}\n", one_line(document));
}

void print_error(const Error& error) {
  fmt::print(stderr, "error: {}\n mend: {}\n", error.what(), error.remedy());
}

void print_warning(const std::string& message) {
  fmt::print(stderr, "warning: {}\n", message);
}

void print_warnings(const Warnings& warnings) {
  for (const Warning& warning : warnings) print_warning(sentence_of(warning));
}

std::string held_back_text(const std::vector<SaidReason>& held_back) {
  std::string text;
  for (const SaidReason& reason : held_back) {
    const std::string of_spins = reason.spins.empty() ? ""
                                                      : fmt::format("spin{} '{}': ", reason.spins.size() > 1 ? "s" : "",
                                                                    fmt::join(reason.spins, "', '"));
    text += fmt::format("IN DOUBT  {}{}\n    MEND  {}\n", of_spins, reason.message, reason.remedy);
  }
  return text.empty() ? text : text + "\n";
}

std::string measured(double value, double expanded_uncertainty) {
  return measured_text(value, expanded_uncertainty, english());
}

}  // namespace counterspot::commands
