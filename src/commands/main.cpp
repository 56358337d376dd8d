#include <fmt/format.h>
#include <malloc.h>

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <exception>

#include "commands/command.hpp"
#include "commands/output.hpp"
#include "counterspot/version.hpp"

using namespace counterspot;

namespace {

/// CLI11 would only say that a subcommand is required.
void refuse_unknown_command(const CLI::App& program, int argc, char** argv) {
  if (argc < 2 || argv[1][0] == '-') return;
  std::string names;
  for (const CLI::App* command : program.get_subcommands({})) {
    if (command->get_name() == argv[1]) return;
    names += (names.empty() ? "" : ", ") + command->get_name();
  }
  throw Error(Trouble::request, "no_such_command", fmt::format("there is no command '{}'", argv[1]),
              "the commands are " + names);
}

int run(int argc, char** argv) {
  CLI::App program{"Counterspot: balance a tubular drive shaft in two planes, from recordings to a verdict."};
  program.name("counterspot");
  program.set_version_flag("--version", std::string("counterspot ") + version);
  program.require_subcommand(1);
  program.footer(
      "Exit codes: 0 done (and within limit); 1 not within limit, or it cannot be said; 2 the command line or a file\n"
      "you wrote is wrong; 3 a recording cannot be used; 4 the machine failed.\n\n" +
      commands::cautions());
  int exit_code = 0;
  commands::add_inspect(program, exit_code);
  commands::add_track(program, exit_code);
  commands::add_sweep(program, exit_code);
  commands::add_solve(program, exit_code);
  commands::add_limit(program, exit_code);
  commands::add_place(program, exit_code);
  commands::add_shaft(program, exit_code);
  commands::add_job(program, exit_code);
  commands::add_rig(program, exit_code);
  commands::add_batch(program, exit_code);
  commands::add_log(program, exit_code);
  commands::add_sheet(program, exit_code);
  commands::add_record(program, exit_code);
  commands::add_console(program, exit_code);
  commands::add_completion(program, exit_code);
  commands::add_manual(program, exit_code);
  try {
    refuse_unknown_command(program, argc, argv);
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

}  // namespace

int main(int argc, char** argv) {
  keep_freed_memory();
  try {
    const int exit_code = run(argc, argv);
    if (std::fflush(stdout) == 0) return exit_code;
    std::fprintf(stderr, "error: what was found could not be written: %s\n mend: make room, or see where it is sent\n",
                 std::strerror(errno));
    return static_cast<int>(Trouble::machine);
  } catch (const std::exception& error) {
    std::fprintf(stderr, "error: %s\n mend: this is a fault of the program or the machine; please report it\n",
                 error.what());
    return static_cast<int>(Trouble::machine);
  }
}
