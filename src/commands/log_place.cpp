#include "commands/log_place.hpp"

#include <chrono>
#include <cstdlib>
#include <filesystem>

#include "commands/command.hpp"
#include "commands/output.hpp"
#include "counterspot/drawing/command_words.hpp"
#include "counterspot/units/error.hpp"
#include "counterspot/version.hpp"
#include "files/output_file.hpp"
#include "report/text.hpp"

namespace counterspot::commands {

namespace {

namespace fs = std::filesystem;

/// XDG Base Directory Specification 0.8: $XDG_DATA_HOME, or $HOME/.local/share.
fs::path users_data_folder() {
  const char* data = std::getenv("XDG_DATA_HOME");  // NOLINT(concurrency-mt-unsafe): before any thread
  if (data != nullptr && data[0] == '/') return fs::path(data) / "counterspot";
  const char* home = std::getenv("HOME");  // NOLINT(concurrency-mt-unsafe)
  if (home != nullptr && home[0] != '\0') return fs::path(home) / ".local" / "share" / "counterspot";
  throw Error(Trouble::request, "no_log", "there is no home folder to keep the log in", "say where it is with --log");
}

std::string users_log(bool create) {
  const fs::path folder = users_data_folder();
  std::error_code trouble;
  if (create) fs::create_directories(folder, trouble);
  if (trouble) {
    throw Error(Trouble::machine, "log_read_only", folder.string() + ": this folder for the log cannot be made",
                "give yourself the right to write there, or choose another log with --log");
  }
  return (folder / "log.db").string();
}

}  // namespace

SealingProgress told_sealing() {
  using Clock = std::chrono::steady_clock;
  return [next = Clock::now() + std::chrono::seconds(2)](std::int64_t done, std::int64_t all) mutable {
    if (Clock::now() < next || all == 0) return;
    next = Clock::now() + std::chrono::seconds(10);
    print_progress(say(words_of_locale().commands().log.sealing, 100 * done / all, all));
  };
}

void add_log_option(CLI::App& command, std::string& place) {
  command.add_option("--log", place,
                     "The quality log: a file, or postgresql://… where several rigs share one (default: log.db in your "
                     "data folder)");
}

Log open_log(const std::string& place, bool create) {
  admit_standard_output(files_of_log(place));
  return Log::open(place.empty() ? users_log(create) : place, create, told_sealing());
}

Log log_to_read(const std::string& place) {
  admit_standard_output(files_of_log(place));
  return Log::open_to_read(place.empty() ? users_log(false) : place, told_sealing());
}

std::string log_file_of(const std::string& place) {
  return place.empty() ? users_log(false) : place;
}

std::vector<std::filesystem::path> files_of_log(const std::string& place) {
  if (place.starts_with("postgresql://")) return {};
  const std::string file = log_file_of(place);
  return {file, file + "-wal", file + "-shm", file + "-journal"};
}

std::string program_name() {
  return std::string("counterspot ") + version;
}

}  // namespace counterspot::commands
