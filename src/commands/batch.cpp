#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <filesystem>
#include <functional>
#include <memory>
#include <mutex>
#include <set>
#include <thread>

#include "commands/command.hpp"
#include "commands/documents.hpp"
#include "commands/growing_results.hpp"
#include "commands/output.hpp"
#include "commands/stated_options.hpp"
#include "counterspot/files/files.hpp"
#include "files/output_file.hpp"

namespace counterspot::commands {

namespace {

namespace fs = std::filesystem;

struct BatchAsked {
  std::string folder;
  std::string rig;
  std::string out;
  std::string part = "1/1";
  StatedRecording stated;
  unsigned threads = std::max(1U, std::thread::hardware_concurrency());
};

bool is_recording(const fs::path& path) {
  static const std::set<std::string> endings = {".wav", ".rf64", ".w64", ".aif", ".aiff", ".flac", ".csv"};
  std::string ending = path.extension().string();
  std::transform(ending.begin(), ending.end(), ending.begin(), [](unsigned char c) { return std::tolower(c); });
  return endings.contains(ending);
}

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

using DocumentOf = std::function<Json(const std::string& file)>;

/// What the threads share.
struct Work {
  const std::vector<std::string>& files;
  const DocumentOf& document_of;
  GrowingResults& results;
  std::atomic<std::size_t> next = 0;
  std::mutex mutex;  // of all below
  std::size_t done = 0;
  int failed = 0;
  int worst = 0;  ///< exit code
  std::exception_ptr stopped;
};

/// A file that cannot be used has its error in its line, and the others go on.
void do_file(Work& work, const std::string& file) {
  Json document;
  int trouble = 0;
  try {
    document = work.document_of(file);
    document["file"] = file;
  } catch (const Error& error) {
    document = counterspot::document_of(file, error);
    trouble = static_cast<int>(error.trouble());
  }
  const std::lock_guard lock(work.mutex);
  work.results.add(file, document);
  work.failed += trouble != 0 ? 1 : 0;
  work.worst = std::max(work.worst, trouble);
  show_progress(++work.done, work.files.size());
}

void work_through(Work& work) {
  try {
    for (std::size_t i = work.next++; i < work.files.size(); i = work.next++) do_file(work, work.files[i]);
  } catch (...) {  // the results cannot be written: all stop
    const std::lock_guard lock(work.mutex);
    work.stopped = std::current_exception();
    work.next = work.files.size();
  }
}

int run(const BatchAsked& asked, std::vector<std::string> files, const DocumentOf& document_of) {
  OutputRules rules{Overwrite::all, {files.begin(), files.end()}};  // results only grow
  rules.read.emplace_back(asked.rig);
  admit_output(asked.out, rules);
  files = part_of(files, asked.part);
  GrowingResults results(asked.out);
  const std::size_t all = files.size();
  std::erase_if(files, [&](const std::string& file) { return results.holds(file); });
  Work work{files, document_of, results, {}, {}, 0, 0, 0, nullptr};
  {
    std::vector<std::jthread> threads;
    for (unsigned i = 0; i < asked.threads; ++i) threads.emplace_back([&work] { work_through(work); });
  }
  if (work.stopped) std::rethrow_exception(work.stopped);
  results.keep();
  print(fmt::format("{} files: {} done before, {} now, {} of these with an error (in their line)\n", all,
                    all - files.size(), files.size(), work.failed));
  return work.worst;
}

CLI::App* add(CLI::App& batch, const std::string& name, const std::string& words, BatchAsked& asked) {
  CLI::App* command = batch.add_subcommand(name, words);
  command->add_option("folder", asked.folder, "The folder, with all folders in it")->required();
  command
      ->add_option("--out", asked.out,
                   "The results: .csv (a table), .jsonl (a document a line) or .json, as its name ends; started again "
                   "it goes on where it stopped")
      ->required();
  add_stated_options(*command, asked.stated);
  command->add_option("--threads", asked.threads, "How many files at once (default: one a core)")
      ->check(CLI::Range(1U, 1024U));
  command->add_option("--part", asked.part, "Only this part of the files, such as 3/16, for work on several machines")
      ->capture_default_str();
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
  track->footer(
      "Examples:\n  counterspot batch track runs --rig rig.toml --out tracks.csv\n"
      "  counterspot batch track runs --rig rig.toml --out tracks.jsonl");
  track->callback([asked, &exit_code] {
    const Rig rig = with_stated(read_rig(asked->rig), asked->stated);
    exit_code = run(*asked, files_in(*asked, &is_recording),
                    [&rig](const std::string& file) { return track_document(file, rig); });
  });

  CLI::App* solve = add(*batch, "solve", "Every spins.toml of a folder", *asked);
  solve->footer("Example:\n  counterspot batch solve runs --out solutions.jsonl --part 3/16");
  solve->callback([asked, &exit_code] {
    exit_code = run(*asked, files_in(*asked, &is_spin_file),
                    [asked](const std::string& file) { return solve_document(file, asked->stated); });
  });
}

}  // namespace counterspot::commands
