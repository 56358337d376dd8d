#include <fmt/format.h>

#include <memory>

#include "commands/command.hpp"
#include "commands/output.hpp"

namespace counterspot::commands {

namespace {

/// The long options of a command, read from the command itself so that the script cannot go stale.
std::string options_of(const CLI::App& command) {
  std::string list;
  for (const CLI::Option* option : command.get_options()) {
    for (const std::string& name : option->get_lnames()) list += " --" + name;
  }
  return list;
}

std::string bash_script(const CLI::App& program) {
  std::string names;
  std::string cases;
  for (const CLI::App* command : program.get_subcommands({})) {
    names += " " + command->get_name();
    std::string inner;
    for (const CLI::App* step : command->get_subcommands({})) inner += " " + step->get_name() + options_of(*step);
    cases += fmt::format("    {}) words=\"{}{}\" ;;\n", command->get_name(), options_of(*command), inner);
  }
  return fmt::format(R"(# bash completion for counterspot; made by 'counterspot completion'
_counterspot() {{
  local word="${{COMP_WORDS[COMP_CWORD]}}" words
  case "${{COMP_WORDS[1]}}" in
{}    *) words="{} --help --version" ;;
  esac
  [ "$COMP_CWORD" -eq 1 ] && words="{} --help --version"
  COMPREPLY=($(compgen -W "$words" -- "$word"))
  [ "$COMP_CWORD" -gt 1 ] && [ "${{word:0:1}}" != - ] && COMPREPLY+=($(compgen -f -- "$word"))
  return 0
}}
complete -o filenames -F _counterspot counterspot
)",
                     cases, names, names);
}

}  // namespace

void add_completion(CLI::App& program, int&) {
  CLI::App* command = program.add_subcommand("completion", "Print the bash completion script");
  command->footer("Example:\n  counterspot completion > ~/.local/share/bash-completion/completions/counterspot");
  command->callback([&program] { print(bash_script(program)); });
}

}  // namespace counterspot::commands
