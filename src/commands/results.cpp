#include "commands/results.hpp"

#include "files/output_file.hpp"

namespace counterspot::commands {

namespace {

OutputRules results_rules(bool replace, const std::vector<std::filesystem::path>& read) {
  return {replace ? Overwrite::all : Overwrite::nothing, read};
}

}  // namespace

void add_results_option(CLI::App& command, ResultsAsked& asked) {
  command
      .add_option(
          "--out", asked.file,
          "Also write what was found into this file: .csv (a table: a row for each recording, sensor and order), "
          ".json, .jsonl, .npz, .mat or .uff (vectors over speed), as its name ends")
      ->each([](const std::string& file) { form_of_name(file); });
}

void admit_results(const ResultsAsked& asked, bool replace, const std::vector<std::filesystem::path>& read) {
  if (asked) admit_output(asked.file, results_rules(replace, read));
}

template <typename Found>
void write_results(const Found& found, const ResultsAsked& asked, bool replace,
                   const std::vector<std::filesystem::path>& read) {
  if (asked) write_output(asked.file, results_text(form_of_name(asked.file), found), results_rules(replace, read));
}
template void write_results(const Json&, const ResultsAsked&, bool, const std::vector<std::filesystem::path>&);
template void write_results(const std::vector<Json>&, const ResultsAsked&, bool,
                            const std::vector<std::filesystem::path>&);

}  // namespace counterspot::commands
