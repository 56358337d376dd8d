#pragma once

#include <CLI/CLI.hpp>

#include "counterspot/drawing/words.hpp"

namespace counterspot::commands {

/// Each subcommand is one file that adds itself to the program: parse, call the library, print. It computes nothing and
/// sets the exit code of the program: 0 done (and within limit), 1 done and not within limit, or cannot be said; errors
/// are thrown.
void add_inspect(CLI::App& program, int& exit_code);
void add_track(CLI::App& program, int& exit_code);
void add_sweep(CLI::App& program, int& exit_code);
void add_solve(CLI::App& program, int& exit_code);
void add_limit(CLI::App& program, int& exit_code);
void add_stock(CLI::App& program, int& exit_code);
void add_place(CLI::App& program, int& exit_code);
void add_shaft(CLI::App& program, int& exit_code);
void add_job(CLI::App& program, int& exit_code);
void add_rig(CLI::App& program, int& exit_code);
void add_batch(CLI::App& program, int& exit_code);
void add_log(CLI::App& program, int& exit_code);
void add_shop(CLI::App& program, int& exit_code);
void add_doctor(CLI::App& program, int& exit_code);
void add_sheet(CLI::App& program, int& exit_code);
void add_record(CLI::App& program, int& exit_code);
void add_console(CLI::App& program, int& exit_code);
void add_completion(CLI::App& program, int& exit_code);
void add_manual(CLI::App& program, int& exit_code);

/// What `--version` says: program, commit, libraries.
std::string version_text();
/// The part of it that names the libraries.
std::string libraries_text();

/// POSIX: the first of LC_ALL, LC_MESSAGES and LANG that is set says the language of messages.
const Words& words_of_locale();
/// Those of the `--language` on a command line that may be wrong in other things; none if there is no such option.
const Words* words_asked(const std::vector<std::string>& typed);
/// The language of what people read: that of the locale unless another is asked for. @param words must outlive the
/// command.
void add_language_option(CLI::App& command, const Words*& words);

}  // namespace counterspot::commands
