#include <fcntl.h>
#include <fmt/format.h>
#include <malloc.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <exception>
#include <string_view>

#include "commands/command.hpp"
#include "commands/file_help.hpp"
#include "commands/help_language.hpp"
#include "commands/output.hpp"
#include "commands/shop.hpp"

using namespace counterspot;

namespace {

struct Command {
  std::string_view name;
  void (*add)(CLI::App& program, int& exit_code);
  bool tells_of_all = false;
};
constexpr Command all_commands[] = {
    {"inspect", commands::add_inspect},
    {"track", commands::add_track},
    {"sweep", commands::add_sweep},
    {"solve", commands::add_solve},
    {"limit", commands::add_limit},
    {"place", commands::add_place},
    {"stock", commands::add_stock},
    {"shaft", commands::add_shaft},
    {"job", commands::add_job},
    {"rig", commands::add_rig},
    {"batch", commands::add_batch},
    {"log", commands::add_log},
    {"sheet", commands::add_sheet},
    {"shop", commands::add_shop},
    {"doctor", commands::add_doctor},
    {"record", commands::add_record},
    {"console", commands::add_console},
    {"completion", commands::add_completion, true},
    {"manual", commands::add_manual, true},
};

/// Only the command that is asked for: to describe all of them takes longer than some of them work.
void add_commands(CLI::App& program, std::string_view asked, int& exit_code) {
  const auto* const found = std::ranges::find(all_commands, asked, &Command::name);
  if (found != std::end(all_commands) && !found->tells_of_all) return found->add(program, exit_code);
  for (const Command& command : all_commands) command.add(program, exit_code);
  if (found != std::end(all_commands) || asked.empty() || asked.front() == '-') return;
  std::string names;  // CLI11 would only say that a subcommand is required
  for (const Command& command : all_commands) names += fmt::format("{}{}", names.empty() ? "" : ", ", command.name);
  throw Error(Trouble::request, "no_such_command", fmt::format("there is no command '{}'", asked),
              "the commands are " + names);
}

int run(const std::vector<std::string>& typed) {
  const bool bare = typed.empty() || typed.front().starts_with("--language");
  const Words* words = nullptr;
  CLI::App program{"Counterspot: balance a tubular drive shaft in two planes, from recordings to a verdict."};
  program.name("counterspot");
  program.set_version_flag("--version", commands::version_text,
                           "This program, its commit and the libraries it works with");
  commands::add_language_option(program, words);
  program.require_subcommand(bare ? 0 : 1);
  program.footer(
      "Exit codes: 0 done (and within limit); 1 not within limit, or it cannot be said;\n"
      "2 the command line or a file you wrote is wrong; 3 a recording cannot be used; 4 the machine failed.\n\n" +
      cautions());
  int exit_code = 0;
  try {
    add_commands(program, bare ? "" : typed.front(), exit_code);
    commands::show_files(program);
    commands::fill_from_shop(program, typed);
    const bool help = commands::asks_for_help(typed);
    if (help) commands::say_help_in(program, commands::words_here(typed));
    std::vector<std::string> last_first = help ? commands::without_language(typed) : typed;
    std::ranges::reverse(last_first);  // as CLI11 takes them
    program.parse(last_first);
    if (bare) commands::print(commands::standing_text(commands::words_here(typed)));
  } catch (const CLI::ParseError& error) {
    if (error.get_exit_code() == 0) return program.exit(error);  // --help, --version
    commands::print_error({Trouble::request, "bad_command_line", error.what(), "see 'counterspot --help'"},
                          commands::words_here(typed));
    return static_cast<int>(Trouble::request);
  } catch (const Error& error) {
    commands::print_error(error, commands::words_here(typed));
    return static_cast<int>(error.trouble());
  }
  return exit_code;
}

/// Working memory comes and goes in large pieces. Given back each time, it would have to be fetched from the kernel
/// page by page again, which takes as long as some of the work.
void keep_freed_memory() {
#ifdef __GLIBC__
  constexpr int bytes = 32 << 20;
  mallopt(M_MMAP_THRESHOLD, bytes);
  mallopt(M_TRIM_THRESHOLD, bytes);
  mallopt(M_TOP_PAD, bytes / 8);
#endif
}

/// Else the first file that is opened would take the number of a stream that was closed, and what is printed would go
/// into that file. What stands in place of standard output takes nothing, so that the loss is said.
void hold_standard_streams() {
  for (const int number : {STDIN_FILENO, STDOUT_FILENO, STDERR_FILENO})
    if (fcntl(number, F_GETFD) < 0)
      static_cast<void>(open("/dev/null", number == STDERR_FILENO ? O_WRONLY : O_RDONLY));  // the lowest that is free
}

}  // namespace

int main(int argc, char** argv) {
  keep_freed_memory();
  hold_standard_streams();
  const std::vector<std::string> typed = commands::language_last({argv + std::min(argc, 1), argv + argc});
  try {
    const int exit_code = run(typed);
    if (exit_code != static_cast<int>(Trouble::machine)) commands::finish_output();
    return exit_code;
  } catch (const Error& error) {
    commands::print_error(error, commands::words_here(typed));
    return static_cast<int>(error.trouble());
  } catch (const std::exception& error) {
    std::fprintf(stderr, "error: %s\n mend: this is a fault of the program or the machine; please report it\n",
                 error.what());
    return static_cast<int>(Trouble::machine);
  }
}
