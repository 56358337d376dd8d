#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <cmath>
#include <filesystem>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <thread>
#include <utility>

#include "commands/command.hpp"
#include "commands/documents.hpp"
#include "commands/interrupt.hpp"
#include "commands/output.hpp"
#include "commands/stated_options.hpp"
#include "counterspot/drawing/command_words.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/recording/recording_names.hpp"
#include "files/growing_results.hpp"
#include "files/output_file.hpp"
#include "files/standing_files.hpp"
#include "report/results.hpp"
#include "report/text.hpp"

namespace counterspot::commands {

namespace {

namespace fs = std::filesystem;

struct BatchAsked {
  std::string folder;
  std::string rig;
  std::string out;
  std::string part = "1/1";
  StatedRecording stated;
  std::string still;
  bool watch = false;
  const Words* words = &english();
  unsigned threads = std::max(1U, std::thread::hardware_concurrency());

  const LogWords& texts() const { return words->commands().log; }
};

bool is_spin_file(const fs::path& path) {
  return path.filename() == "spins.toml";
}

/// In the order of their names, so that the parts of several machines fit together. A table of results may lie among
/// the recordings; it is none.
std::vector<std::string> files_in(const BatchAsked& asked, bool (*wanted)(const fs::path&)) {
  const std::string& folder = asked.folder;
  std::error_code trouble;
  std::error_code other;
  std::vector<std::string> files;
  for (fs::recursive_directory_iterator at(folder, trouble); !trouble && at != fs::recursive_directory_iterator();
       at.increment(trouble)) {
    if (at->is_regular_file(other) && wanted(at->path()) && !fs::equivalent(at->path(), asked.out, other))
      files.push_back(at->path().string());
  }
  if (trouble) {
    throw Error(Trouble::request, "not_found", fmt::format("{}: there is no such folder, or it cannot be read", folder),
                "name the folder that the recorded runs are in");
  }
  std::sort(files.begin(), files.end());
  return files;
}

std::vector<std::string> recordings_in(const BatchAsked& asked) {
  return files_in(asked, &is_called_recording);
}

/// "3/16": every sixteenth file, from the third on.
std::vector<std::string> part_of(const std::vector<std::string>& files, const std::string& part) {
  unsigned which = 0;
  unsigned of = 0;
  char more = 0;
  if (std::sscanf(part.c_str(), "%u/%u%c", &which, &of, &more) != 2 || which < 1 ||
      which > of) {  // NOLINT(cert-err34-c)
    throw Error(Trouble::request, "bad_part", fmt::format("'{}' is not a part", part), "write it like 3/16");
  }
  std::vector<std::string> chosen;
  for (std::size_t i = which - 1; i < files.size(); i += of) chosen.push_back(files[i]);
  return chosen;
}

/// On a terminal only.
void show_progress(std::size_t done, std::size_t of) {
  if (isatty(STDERR_FILENO) == 0) return;
  constexpr std::size_t width = 40;
  const std::size_t filled = of == 0 ? width : done * width / of;
  fmt::print(stderr, "\r[{:<{}}] {} of {}{}", std::string(filled, '#'), width, done, of, done == of ? "\n" : "");
}

/// The folder that a file stands in, from the one that was named; empty there.
std::string group_of(const fs::path& file, const fs::path& named) {
  const fs::path group = file.parent_path().lexically_relative(named);
  return group == "." ? "" : group.generic_string();
}

using DocumentOf = std::function<Json(const std::string& file)>;

/// What the threads share.
struct Work {
  const std::string& folder;  ///< that was named
  const std::vector<std::string>& files;
  const DocumentOf& document_of;
  GrowingResults& results;
  /// Of a file that is in the results now, with its error if it has one.
  std::function<void(const std::string& file, const std::optional<Error>& error)> tell = {};
  std::atomic<std::size_t> next = 0;
  std::mutex mutex = {};  // of all below
  std::size_t done = 0;
  std::size_t failed = 0;
  int worst = 0;  ///< exit code
  std::exception_ptr stopped = nullptr;
};

/// A file that cannot be used has its error in its line, and the others go on.
void do_file(Work& work, const std::string& file) {
  Json document;
  std::optional<Error> trouble;
  try {
    document = work.document_of(file);
    document["file"] = file;
  } catch (const Error& error) {
    document = counterspot::document_of(file, error);
    trouble = error;
  }
  document["group"] = group_of(file, work.folder);
  const std::string line = one_line(document);
  const auto rows = rows_of(document);
  const std::lock_guard lock(work.mutex);  // only writing is one after the other
  work.results.add(file, line, rows);
  ++work.done;
  if (trouble) {
    ++work.failed;
    work.worst = std::max(work.worst, static_cast<int>(trouble->trouble()));
  }
  work.tell(file, trouble);
}

void work_through(Work& work) {
  try {
    for (std::size_t i = work.next++; i < work.files.size() && !interrupted(); i = work.next++)
      do_file(work, work.files[i]);
  } catch (...) {  // the results cannot be written: all stop
    const std::lock_guard lock(work.mutex);
    work.stopped = std::current_exception();
    work.next = work.files.size();
  }
}

/// Where the results go: nothing that is read.
const std::string& admitted(const BatchAsked& asked, const std::vector<std::string>& files) {
  OutputRules rules{Overwrite::all, {files.begin(), files.end()}};  // results only grow
  rules.read.emplace_back(asked.rig);
  admit_output(asked.out, rules);
  return asked.out;
}

/// All files, on as many threads. @throws what stopped the work.
void work_on_threads(Work& work, unsigned most_threads) {
  {
    std::vector<std::jthread> threads;
    for (std::size_t i = 0; i < std::min<std::size_t>(most_threads, work.files.size()); ++i)
      threads.emplace_back([&work] { work_through(work); });
  }
  if (work.stopped) std::rethrow_exception(work.stopped);
}

int run(const BatchAsked& asked, std::vector<std::string> files, const DocumentOf& document_of) {
  const std::vector<std::string> part = part_of(files, asked.part);
  GrowingResults results(admitted(asked, files));
  files = part;
  const std::size_t all = files.size();
  std::erase_if(files, [&](const std::string& file) { return results.holds(file); });
  Work work{asked.folder, files, document_of, results};
  work.tell = [&work](const auto&, const auto&) { show_progress(work.done, work.files.size()); };
  work_on_threads(work, asked.threads);
  results.keep();
  print(say(asked.texts().batch_done, all, all - files.size(), files.size(), work.failed));
  return work.worst;
}

/// A list of results out of a folder that a logger fills with recordings. `batch solve` has none: a spins file grows
/// spin by spin, and what is taken of it once would be the shaft before its last correction.
class Watch {
 public:
  Watch(const BatchAsked& asked, const DocumentOf& document_of)
      : asked_(asked),
        document_of_(document_of),
        still_s_(still_of(asked)),
        results_(admitted(asked, recordings_in(asked))),
        standing_(still_s_) {}

  /// Until Ctrl-C or SIGTERM. @throws if the folder is not there to begin with, or the results cannot be written.
  void go_on() {
    heed_interrupts();
    print(say(asked_.texts().watching, asked_.folder, fmt::format("{:g}", still_s_)));
    while (!interrupted()) {
      std::fflush(stdout);
      measure_ready(look());
      wait();
    }
    print(say(asked_.texts().watched, taken_, failed_));
  }

 private:
  static constexpr double usual_still_s = 3.0;  // common practice, no source: loggers write once a second and oftener

  static double still_of(const BatchAsked& asked) {
    const double still_s = asked.still.empty() ? usual_still_s : parse_quantity(asked.still, Dimension::time);
    if (still_s >= 0.0 && std::isfinite(still_s)) return still_s;
    throw Error(Trouble::request, "bad_time", fmt::format("a file cannot stand still for {} s", still_s),
                "write it like --still \"3 s\"");
  }

  static double now_s() {
    return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
  }

  /// A folder on a network may be away for a while.
  StandingFiles::Look look() {
    try {
      std::vector<std::string> files = recordings_in(asked_);
      std::erase_if(files, [&](const std::string& file) { return results_.holds(file) && !standing_.told(file); });
      away_ = false;
      return standing_.look(files, now_s());
    } catch (const Error& error) {
      if (!std::exchange(away_, true)) print_error(error, *asked_.words);
      return {};
    }
  }

  void measure_ready(const StandingFiles::Look& look) {
    const LogWords& texts = asked_.texts();
    for (const std::string& file : look.growing) print_progress(say(texts.not_complete, file));
    for (const std::string& file : look.changed) print_progress(say(texts.has_changed, file));
    if (look.ready.empty()) return;
    Work work{asked_.folder, look.ready, document_of_, results_};
    work.tell = [this](const std::string& file, const std::optional<Error>& error) {
      error ? print_error(*error, *asked_.words) : print(say(asked_.texts().measured, file));
    };
    work_on_threads(work, asked_.threads);
    results_.keep();
    taken_ += work.done;
    failed_ += work.failed;
  }

  void wait() const {
    const double until_s = now_s() + std::clamp(still_s_ / 4.0, 0.05, 1.0);
    while (!interrupted() && now_s() < until_s) std::this_thread::sleep_for(std::chrono::milliseconds(20));
  }

  const BatchAsked& asked_;
  const DocumentOf& document_of_;
  double still_s_;
  GrowingResults results_;
  StandingFiles standing_;
  bool away_ = false;
  std::size_t taken_ = 0;
  std::size_t failed_ = 0;
};

CLI::App* add(CLI::App& batch, const std::string& name, const std::string& words, BatchAsked& asked) {
  CLI::App* command = batch.add_subcommand(name, words);
  command->add_option("folder", asked.folder, "The folder, with all folders in it")->required();
  command
      ->add_option("--out", asked.out,
                   "The results: .csv (a table), .jsonl (a document a line) or .json, as its name ends; started again "
                   "it goes on where it stopped. `group` in it is the folder of each file, from the one named here")
      ->required();
  add_stated_options(*command, asked.stated);
  command->add_option("--threads", asked.threads, "How many files at once (default: one a core)")
      ->check(CLI::Range(1U, 1024U));
  command->add_option("--part", asked.part, "Only this part of the files, such as 3/16, for work on several machines")
      ->capture_default_str();
  add_language_option(*command, asked.words);
  return command;
}

}  // namespace

void add_batch(CLI::App& program, int& exit_code) {
  auto asked = std::make_shared<BatchAsked>();
  CLI::App* batch = program.add_subcommand("batch", "Track or solve a whole folder of recorded runs, with all cores");
  batch->require_subcommand(1);
  batch->footer("Example:\n  counterspot batch track runs --rig rig.toml --out tracks.jsonl");

  CLI::App* track = add(*batch, "track", "Every recording of a folder", *asked);
  track->add_option("--rig", asked->rig, "The rig file")->required();
  CLI::Option* watch = track->add_flag("--watch", asked->watch,
                                       "Go on until Ctrl-C or SIGTERM (exit code 0): each recording that arrives is "
                                       "taken once, when it is whole");
  track->add_option("--still", asked->still, "That is, when its size has stood still so long; \"3 s\" if not given")
      ->needs(watch);
  watch->excludes("--part");
  track->footer(
      "Examples:\n  counterspot batch track runs --rig rig.toml --out tracks.csv\n"
      "  counterspot batch track runs --rig rig.toml --out tracks.jsonl\n"
      "  counterspot batch track logger --rig rig.toml --out tracks.csv --watch");
  track->callback([asked, &exit_code] {
    const Rig rig = with_stated(read_rig(asked->rig), asked->stated);
    const DocumentOf document_of = [&rig](const std::string& file) { return track_document(file, rig); };
    if (asked->watch) return Watch(*asked, document_of).go_on();
    exit_code = run(*asked, recordings_in(*asked), document_of);
  });

  CLI::App* solve = add(*batch, "solve", "Every spins.toml of a folder", *asked);
  solve->footer("Example:\n  counterspot batch solve runs --out solutions.jsonl --part 3/16");
  solve->callback([asked, &exit_code] {
    exit_code = run(*asked, files_in(*asked, &is_spin_file),
                    [asked](const std::string& file) { return solve_document(file, asked->stated); });
  });
}

}  // namespace counterspot::commands
