#include "commands/output.hpp"

#include <fmt/format.h>

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
  for (const Warning& warning : warnings) print_warning(warning.message);
}

std::string measured(double value, double expanded_uncertainty) {
  return measured_text(value, expanded_uncertainty, english());
}

}  // namespace counterspot::commands
