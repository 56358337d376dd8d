#include "commands/log_verify.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <fstream>
#include <iterator>
#include <memory>

#include "commands/command.hpp"
#include "commands/log_place.hpp"
#include "commands/output.hpp"
#include "counterspot/log/seal.hpp"
#include "counterspot/sheet/verify.hpp"
#include "sheet/json.hpp"

namespace counterspot::commands {

namespace {

struct VerifyAsked {
  std::string log;
  std::string what;
  std::string code;
  bool json = false;
};

std::string text_of_file(const std::string& file) {
  std::ifstream stream(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(stream), {}};
}

std::vector<Verified> verified_by(const VerifyAsked& asked) {
  if (asked.what != "-" && !std::filesystem::exists(asked.what)) {
    const Log log = log_to_read(asked.log);
    const Job job = log.job(asked.what);
    return {verified(job, log.links_of(job), asked.code)};
  }
  if (asked.what != "-" && is_sheet_json(text_of_file(asked.what)))
    return {verified_sheet(text_of_file(asked.what), log_to_read(asked.log))};
  std::vector<Verified> all;
  for (const Job& job : exported_by(asked.what).jobs) all.push_back(verified(job, {}, asked.code));
  return all;
}

void print_verified(const Verified& verified, bool json) {
  if (json) return print_json(document_of(verified));
  for (const std::string& fault : verified.faults) print(fmt::format("FAULT  job {}: {}\n", verified.job, fault));
  if (!verified.faults.empty()) return;
  print(fmt::format("Job {}: {} entries, as they were kept. Seal {}\n", verified.job, verified.entries,
                    seal_code(verified.seal)));
  if (!verified.entry_of_code) return;
  const int later = verified.entries - *verified.entry_of_code;
  print(fmt::format("  What was shown is of entry {}; {} came later.\n", *verified.entry_of_code,
                    later == 0 ? "none" : fmt::format("{} entries", later)));
}

int verify(const VerifyAsked& asked) {
  bool sound = true;
  for (const Verified& verified : verified_by(asked)) {
    print_verified(verified, asked.json);
    sound = sound && verified.faults.empty();
  }
  return sound ? 0 : 1;
}

}  // namespace

void add_log_verify(CLI::App& log, int& exit_code) {
  auto asked = std::make_shared<VerifyAsked>();
  CLI::App* command = log.add_subcommand("verify", "Is a job, an export or a sheet what was kept then?");
  add_log_option(*command, asked->log);
  command->add_option("what", asked->what, "A job (PS-1042/1), a file of 'log export', or of 'sheet --json'")
      ->required();
  command->add_option("--code", asked->code, "The code of a seal or of a link, as a sheet shows it");
  command->add_flag("--json", asked->json, "JSON Lines for programs");
  command->footer(
      "Examples:\n  counterspot log verify PS-1042/1 --code \"3f9a 12cd 55aa 0b1c 9d2e 77f0\"\n"
      "  counterspot log verify jobs.jsonl\nExit code 0: as it was kept; 1: something was changed.");
  command->callback([asked, &exit_code] { exit_code = verify(*asked); });
}

}  // namespace counterspot::commands
