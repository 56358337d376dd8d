#include "commands/rig_check_taps.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <iostream>

#include "commands/log_place.hpp"
#include "commands/output.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/guide/rig_guide.hpp"
#include "counterspot/units/error.hpp"
#include "report/tap_check.hpp"

namespace counterspot::commands {

namespace {

/// At a terminal nothing is recorded before somebody says that hands are where they should be.
std::string knocks_recorded(const TapsAsked& asked, SetupStep step, const std::string& language) {
  const SetupInstruction wanted = instruction_of(step, {});
  print_progress(
      fmt::format("\n{}\n{}\n{}", wanted.caution.in(language), wanted.by_hand.in(language), wanted.act.in(language)));
  if (isatty(STDIN_FILENO) == 1) {
    print_progress(said({"Enter: record", "Eingabetaste: aufnehmen"}).in(language));
    std::string line;
    if (!std::getline(std::cin, line))
      throw Error(Trouble::request, "no_answer", "standard input ended before the knocks were to be recorded",
                  "begin again, and press Enter when hands are where they should be");
  }
  return recorded_step(asked.live, asked.rig_file, step);
}

}  // namespace

int check_by_taps(TapsAsked asked, const Words& words) {
  if (asked.record) asked.live = source_of_shop(asked.live);
  const bool live = !asked.live.source.empty();
  const bool one_way =
      live ? asked.knocks_a.empty() && asked.knocks_b.empty() : !asked.knocks_a.empty() && !asked.knocks_b.empty();
  if (asked.rig_file.empty() || !one_way)
    throw Error(Trouble::request, "no_knocks",
                "a check by knocks needs the rig's file and both recordings, or a source to record both from",
                "write --rig rig.toml --knocks-a a.wav --knocks-b b.wav, or --rig rig.toml --source alsa:hw:1");
  const Rig rig = read_rig(asked.rig_file);
  if (live) {
    asked.knocks_a = knocks_recorded(asked, SetupStep::knocks_a, words.language);
    asked.knocks_b = knocks_recorded(asked, SetupStep::knocks_b, words.language);
  }
  // For their errors, before a log is made.
  for (const std::string& file : {asked.knocks_a, asked.knocks_b}) open_recording(file);
  Log log = open_log(asked.log, true);
  const auto found = check_by_knocks(log, rig, asked.knocks_a, asked.knocks_b, program_name(), now_unix_s());
  const auto* check = std::get_if<TapCheck>(&found);
  asked.json ? print_json(document_of_taps(found)) : print(taps_text(found, rig, words));
  return check != nullptr && check->within ? 0 : 1;
}

}  // namespace counterspot::commands
