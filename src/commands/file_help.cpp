#include "commands/file_help.hpp"

#include <fmt/format.h>

#include <sstream>

#include "files/file_keys.hpp"

namespace counterspot::commands {

namespace {

/// An option or argument called as the file is: `--rig`, `spins`; or as a folder of them, `--shafts`. `batch solve`
/// finds them by itself.
bool takes(const CLI::App& command, FileKind kind) {
  if (kind == FileKind::shop) return command.get_name() == "shop";
  const std::string_view page = about(kind).page;
  const std::string name(page.substr(0, page.find('-')));
  const auto is_called_so = [&](const CLI::Option* option) {
    return option->check_lname(name) || option->check_lname(name + "s") || option->get_name(true) == name;
  };
  const bool finds_them = kind == FileKind::spins && command.get_name() == "solve";
  return finds_them || !command.get_options(is_called_so).empty();
}

std::string shortest(FileKind kind) {
  std::string text =
      fmt::format("The shortest {} ('counterspot manual {}' has every key):\n", about(kind).file, about(kind).page);
  std::istringstream lines{std::string(about(kind).shortest)};
  for (std::string line; std::getline(lines, line);) text += "  " + line + "\n";
  return text;
}

void show_in(CLI::App& command) {
  std::string footer = command.get_footer();
  for (const FileKind kind : file_kinds)
    if (takes(command, kind)) footer += (footer.empty() ? "" : "\n\n") + shortest(kind);
  while (!footer.empty() && footer.back() == '\n') footer.pop_back();
  command.footer(footer);
  for (CLI::App* step : command.get_subcommands({})) show_in(*step);
}

}  // namespace

void show_files(CLI::App& program) {
  for (CLI::App* command : program.get_subcommands({}))
    if (command->get_name() != "log") show_in(*command);  // which asks for rigs and shafts by their names
}

}  // namespace counterspot::commands
