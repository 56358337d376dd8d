#include "commands/log_verify.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <filesystem>
#include <memory>

#include "commands/command.hpp"
#include "commands/log_place.hpp"
#include "commands/output.hpp"
#include "counterspot/drawing/command_words.hpp"
#include "counterspot/log/seal.hpp"
#include "counterspot/log/signature.hpp"
#include "counterspot/sheet/sheet.hpp"
#include "counterspot/sheet/verify.hpp"
#include "files/text_file.hpp"
#include "report/text.hpp"
#include "sheet/json.hpp"

namespace counterspot::commands {

namespace {

constexpr std::size_t longest_signature = 65536;  // what is longer is another file

struct VerifyAsked {
  std::string log;
  std::string what;
  std::string code;
  std::string signed_by;
  std::string signature;
  std::string exported;
  bool json = false;
  const Words* words = &english();

  DemandedProof expected() const {
    return {code, signed_by.empty() ? "" : public_key_in(signed_by),
            signature.empty() ? "" : text_of_file(signature, longest_signature)};
  }
};

std::vector<Verified> verified_by(const VerifyAsked& asked) {
  const DemandedProof expected = asked.expected();
  if (asked.what != "-" && !std::filesystem::exists(asked.what))
    return {verified_job(asked.what, log_to_read(asked.log), expected)};
  const std::string text = text_named(asked.what);
  if (!is_sheet_json(text)) return verified_export(text, expected);
  if (asked.exported.empty()) return {verified_sheet(text, log_to_read(asked.log), expected)};
  return {verified_sheet(text, exported_in(text_named(asked.exported)), expected)};
}

std::string signatures_text(const Verified& verified, const LogWords& texts) {
  std::string text;
  for (const Event& event : verified.signatures) {
    const auto& made = std::get<Signed>(event.what);
    text += say(texts.signed_by, made.by, utc_minute(event.at_unix_s), key_code(made.public_key));
  }
  return text;
}

std::string text_of(const Verified& verified, const LogWords& texts) {
  std::string text;
  for (const std::string& fault : verified.faults)
    text += say(texts.fault, (verified.job.empty() ? "" : say(texts.of_job, verified.job)) + fault);
  if (!text.empty()) return text;
  if (verified.job.empty()) return texts.whole_file;
  text =
      say(texts.as_kept, verified.job, verified.entries, seal_code(verified.seal)) + signatures_text(verified, texts);
  if (!verified.not_compared.empty())
    text += say(texts.not_compared, fmt::format("{}", fmt::join(verified.not_compared, ", ")));
  if (verified.sheet_form) text += say(texts.earlier_form, *verified.sheet_form, sheet_form);
  if (!verified.entry_of_code) return text;
  const int later = verified.entries - *verified.entry_of_code;
  return text + say(texts.shown_is_of,
                    *verified.entry_of_code == 0 ? texts.its_opening : say(texts.entry, *verified.entry_of_code),
                    later == 0 ? texts.none_later : say(texts.later, later));
}

int verify(const VerifyAsked& asked) {
  bool sound = true;
  for (const Verified& verified : verified_by(asked)) {
    asked.json ? print_json(document_of(verified)) : print(text_of(verified, asked.words->commands().log));
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
  command->add_option("--signed-by", asked->signed_by, "The public key (.pub) of who must have signed it");
  command->add_option("--signature", asked->signature, "The signature (.sig) of the whole file, made by that key");
  command->add_option("--export", asked->exported,
                      "Hold a sheet against this file of 'log export', where there is no log");
  command->add_flag("--json", asked->json, "JSON Lines for programs");
  add_language_option(*command, asked->words);
  command->footer(
      "Examples:\n  counterspot log verify PS-1042/1 --code \"3f9a 12cd 55aa 0b1c 9d2e 77f0\"\n"
      "  counterspot log verify jobs.jsonl --signed-by fenn.key.pub\n"
      "  counterspot log verify sheet.json --export jobs.jsonl --signed-by fenn.key.pub\nExit code 0: as it was kept; "
      "1: something was changed.");
  command->callback([asked, &exit_code] { exit_code = verify(*asked); });
}

}  // namespace counterspot::commands
