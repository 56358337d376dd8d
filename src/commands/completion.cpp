#include <fmt/format.h>

#include <memory>

#include "commands/command.hpp"
#include "commands/help_language.hpp"
#include "commands/output.hpp"
#include "commands/shop.hpp"

namespace counterspot::commands {

namespace {

struct CompletionAsked {
  std::string shell = "bash";
  const Words* words = nullptr;
};

/// Both scripts are read from the commands themselves, so that they cannot go stale.

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

/// 'name:what it does', quoted for zsh.
std::string described(const std::string& name, const std::string& does) {
  std::string text = name + ":";
  for (char c : does) text += c == ':' ? std::string("\\:") : c == '\'' ? std::string("'\\''") : std::string(1, c);
  return " '" + text + "'";
}

std::string described_commands(const CLI::App& parent) {
  std::string list;
  for (const CLI::App* command : parent.get_subcommands({}))
    list += described(command->get_name(), command->get_description());
  return list;
}

std::string described_options(const CLI::App& command) {
  std::string list;
  for (const CLI::Option* option : command.get_options()) {
    for (const std::string& name : option->get_lnames()) list += described("--" + name, option->get_description());
  }
  return list;
}

std::string zsh_script(const CLI::App& program) {
  std::string cases;
  for (const CLI::App* command : program.get_subcommands({})) {
    const std::string& name = command->get_name();
    cases += fmt::format("    {}) steps=({}); options=({}) ;;\n", name, described_commands(*command),
                         described_options(*command));
    for (const CLI::App* step : command->get_subcommands({}))
      cases += fmt::format("    '{} {}') options=({}) ;;\n", name, step->get_name(), described_options(*step));
  }
  return fmt::format(R"(#compdef counterspot
# zsh completion for counterspot; made by 'counterspot completion zsh'
_counterspot() {{
  local -a commands steps options
  commands=({})
  if (( CURRENT == 2 )); then _describe command commands; return; fi
  local part
  for part in "$words[2]" "$words[2] $words[3]"; do
    case "$part" in
{}    esac
  done
  if [[ "$words[CURRENT]" == -* ]]; then _describe option options; return; fi
  (( CURRENT == 3 && $#steps )) && {{ _describe step steps; return; }}
  _files
}}
_counterspot "$@"
)",
                     described_commands(program), cases);
}

}  // namespace

void add_completion(CLI::App& program, int&) {
  auto asked = std::make_shared<CompletionAsked>();
  CLI::App* command = program.add_subcommand("completion", "Print the completion script of a shell");
  command->add_option("shell", asked->shell, "The shell")->check(CLI::IsMember({"bash", "zsh"}))->capture_default_str();
  add_language_option(*command, asked->words);
  asked->words = &words_here({});
  command->footer("Example:\n  counterspot completion > ~/.local/share/bash-completion/completions/counterspot");
  command->callback([asked, &program] {
    say_help_in(program, *asked->words);
    print(asked->shell == "zsh" ? zsh_script(program) : bash_script(program));
  });
}

}  // namespace counterspot::commands
