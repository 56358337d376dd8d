#include "commands/log_verify.hpp"

#include <fmt/format.h>

#include <filesystem>
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

std::vector<Verified> verified_by(const VerifyAsked& asked) {
  if (asked.what != "-" && !std::filesystem::exists(asked.what))
    return {verified_job(asked.what, log_to_read(asked.log), asked.code)};
  const std::string text = text_named(asked.what);
  if (is_sheet_json(text)) return {verified_sheet(text, log_to_read(asked.log))};
  return verified_export(text, asked.code);
}

std::string text_of(const Verified& verified) {
  std::string text;
  for (const std::string& fault : verified.faults)
    text += fmt::format("FAULT  {}{}\n", verified.job.empty() ? "" : fmt::format("job {}: ", verified.job), fault);
  if (!text.empty()) return text;
  text = fmt::format("Job {}: {} entries, as they were kept. Seal {}\n", verified.job, verified.entries,
                     seal_code(verified.seal));
  if (!verified.entry_of_code) return text;
  const int later = verified.entries - *verified.entry_of_code;
  return text +
         fmt::format("  What was shown is of {}; {} came later.\n",
                     *verified.entry_of_code == 0 ? "its opening" : fmt::format("entry {}", *verified.entry_of_code),
                     later == 0 ? "none" : fmt::format("{} entries", later));
}

int verify(const VerifyAsked& asked) {
  bool sound = true;
  for (const Verified& verified : verified_by(asked)) {
    asked.json ? print_json(document_of(verified)) : print(text_of(verified));
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
