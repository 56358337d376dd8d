#pragma once

#include <CLI/CLI.hpp>
#include <filesystem>
#include <string>
#include <vector>

#include "counterspot/log/log.hpp"

namespace counterspot::commands {

/// Adds `--log`; without it the log is a file in the user's data folder.
void add_log_option(CLI::App& command, std::string& place);

/// Says now and then on standard error how far an older log is sealed; nothing of one that is soon done.
SealingProgress told_sealing();

/// @param place what `--log` said; empty: the user's own log, whose folder is made if `create`.
Log open_log(const std::string& place, bool create);

/// The same log only to be read, also where it cannot be written.
Log log_to_read(const std::string& place);

/// As `--log` says it; empty: the user's own log.
std::string log_file_of(const std::string& place);

/// The log's file, and those that SQLite keeps beside it; none of a log that is no file.
std::vector<std::filesystem::path> files_of_log(const std::string& place);

std::string program_name();  ///< "counterspot 0.1.0": what entries are signed with

}  // namespace counterspot::commands
