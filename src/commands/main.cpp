#include <fmt/format.h>

#include <cstdio>
#include <exception>

#include "commands/command.hpp"
#include "commands/output.hpp"
#include "counterspot/version.hpp"

using namespace counterspot;

namespace {

int run(int argc, char** argv) {
  CLI::App program{"Counterspot: balance a tubular drive shaft in two planes, from recordings to a verdict."};
  program.name("counterspot");
  program.set_version_flag("--version", std::string("counterspot ") + version);
  program.require_subcommand(1);
  program.footer(
      "Exit codes: 0 done (and within limit); 1 not within limit, or it cannot be said; 2 the command line or a file\n"
      "you wrote is wrong; 3 a recording cannot be used; 4 the machine failed.\n\n" +
      std::string(commands::cautions));
  int exit_code = 0;
  commands::add_inspect(program, exit_code);
  commands::add_track(program, exit_code);
  commands::add_solve(program, exit_code);
  commands::add_limit(program, exit_code);
  commands::add_completion(program, exit_code);
  try {
    program.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    if (error.get_exit_code() == 0) return program.exit(error);  // --help, --version
    fmt::print(stderr, "error: {}\n mend: see 'counterspot --help'\n", error.what());
    return static_cast<int>(Trouble::request);
  } catch (const Error& error) {
    commands::print_error(error);
    return static_cast<int>(error.trouble());
  }
  return exit_code;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    return run(argc, argv);
  } catch (const std::exception& error) {
    std::fprintf(stderr, "error: %s\n mend: this is a fault of the program or the machine; please report it\n",
                 error.what());
    return static_cast<int>(Trouble::machine);
  }
}
