#include "commands/rig_new.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <memory>

#include "commands/command.hpp"
#include "commands/live_options.hpp"
#include "commands/output.hpp"
#include "commands/picture.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/guide/cautions.hpp"
#include "counterspot/recording/capture.hpp"
#include "counterspot/rig_setup/setup.hpp"
#include "files/output_file.hpp"
#include "files/text_file.hpp"
#include "report/documents.hpp"

namespace counterspot::commands {

namespace {

namespace fs = std::filesystem;

struct NewRigAsked {
  std::string file, source, only;
  std::string out = "rig.toml";
  std::string seconds = "15 s";
  LiveAsked live;
  SetupTold typed;
  bool replace = false;
  bool json = false;
};

/// Beside the rig file: "rig.setup.json".
fs::path kept_beside(const std::string& rig_file) {
  return fs::path(rig_file).replace_extension(".setup.json");
}

SetupTold told_so_far(const fs::path& kept) {
  return fs::exists(kept) ? setup_told_of(text_of_file(kept), kept.string()) : SetupTold{};
}

void take_over(std::string& kept, const std::string& typed) {
  if (!typed.empty()) kept = typed;
}

void add_typed(SetupTold& told, const SetupTold& typed) {
  for (std::string SetupTold::*word : {&SetupTold::top_goes, &SetupTold::name, &SetupTold::viewing_end,
                                       &SetupTold::full_scale, &SetupTold::weight, &SetupTold::radius})
    take_over(told.*word, typed.*word);
  for (std::size_t s : {0U, 1U}) take_over(told.sensitivity[s], typed.sensitivity[s]);
  // For their errors, before anything is kept.
  for (const std::string& text : told.sensitivity)
    if (!text.empty()) parse_sensitivity(text);
  if (!told.full_scale.empty()) parse_quantity(told.full_scale, Dimension::voltage);
  if (!told.weight.empty()) parse_quantity(told.weight, Dimension::mass);
  if (!told.radius.empty()) parse_quantity(told.radius, Dimension::length);
}

/// What the source gives in the time asked, in a file of its own beside the rig file.
std::string recorded(const NewRigAsked& asked, SetupStep step) {
  const double seconds = parse_quantity(asked.seconds, Dimension::time);
  fs::path file;
  for (int n = 1; file.empty() || fs::exists(file); ++n)
    file = fs::path(asked.out).replace_extension(fmt::format("{}-{}.w64", setup_step_name(step), n));
  const auto live = open_live(asked.source, live_options_of(asked.live));
  RecordingWriter writer(file, live->info());
  print_progress(fmt::format("recording {:g} s into {} …", seconds, file.string()));
  const auto frames = static_cast<std::int64_t>(seconds * live->info().sample_rate_Hz);
  while (writer.frames() < frames) {
    const auto block = live->next(static_cast<std::size_t>(std::min<std::int64_t>(4096, frames - writer.frames())));
    if (block.empty()) break;
    writer.write(block);
  }
  live->stop();
  writer.close();
  if (live->overrun_count() > 0) {
    throw Error(Trouble::recording, "overrun", file.string() + ": samples were lost while it was recorded",
                "do the same again; a machine that is busy with other work is the usual reason");
  }
  return file.string();
}

/// Puts what was recorded where it belongs: the step that `--only` names, or the one that is next.
void add_recording(SetupTold& told, const NewRigAsked& asked, const std::vector<SetupStep>& only,
                   const OpenRecording& open) {
  if (asked.file.empty() && asked.source.empty()) return;
  const std::optional<SetupStep> step = only.size() == 1 ? only.front() : standing_of(told, open).next;
  if (!step) {
    throw Error(Trouble::request, "nothing_asked", "every step has its recording",
                "name the step that is to be repeated, as in --only hand");
  }
  if (*step == SetupStep::direction) {
    throw Error(Trouble::request, "not_asked", "which way the shaft turns is not found from a recording",
                "say it: --top left or --top right, as seen from end A towards B");
  }
  const std::string file = asked.file.empty() ? recorded(asked, *step) : asked.file;
  told.recordings[*step] = fs::absolute(file).lexically_normal().string();
  if (*step == SetupStep::known) told.known_seen_from = told.viewing_end;
}

std::string text_of_setup(const SetupStanding& standing, const SetupTold& told, const std::string& written) {
  std::string text;
  for (const std::string& sentence : standing.found) text += fmt::format("FOUND  {}\n", sentence);
  if (standing.again) text += fmt::format("AGAIN  {}: {}\n", standing.again->why, standing.again->instead);
  if (standing.proof && standing.proof->result != ProofResult::held) {
    text += standing.proof->result == ProofResult::failed ? "THE PROOF FAILED, and no rig file is written:\n"
                                                          : "THE PROOF CANNOT BE SAID, and no rig file is written:\n";
    for (const std::string& sentence : standing.proof->against) text += fmt::format("  {}\n", sentence);
    text += "NEXT  Repeat what is named: --only direction, --only knocks, --only tach or --only proof.\n";
  }
  if (standing.proof && standing.proof->result == ProofResult::held) {
    text += fmt::format(
        "PROVED  the known weight was found where it is, {:.0f} % off; smallest residual to be expected {:.2g} "
        "g·mm at A, {:.2g} g·mm at B\n",
        100.0 * standing.proof->off, in_g_mm(standing.proof->smallest_residual_kg_m[0]),
        in_g_mm(standing.proof->smallest_residual_kg_m[1]));
  }
  if (standing.next) {
    const SetupInstruction next = instruction_of(*standing.next, told);
    text += fmt::format("NEXT  ({}) {}\n", setup_step_name(*standing.next), next.act);
    if (!next.caution.empty()) text += fmt::format("CAUTION  {}\n", next.caution);
  }
  if (!written.empty()) text += fmt::format("{}: written. Read it, then qualify the rig: 'rig qualify'.\n", written);
  return text;
}

/// The rig file, if the proof held; what is there already and says the same stays.
std::string write_proved(const SetupStanding& standing, const NewRigAsked& asked) {
  if (standing.rig_text.empty()) return "";
  read_rig_text(standing.rig_text, asked.out);  // never leave a file that cannot be read
  if (fs::exists(asked.out) && text_of_file(asked.out) == standing.rig_text) return asked.out;
  write_output(asked.out, standing.rig_text, {asked.replace ? Overwrite::all : Overwrite::nothing, {asked.file}});
  return asked.out;
}

int go_on(const NewRigAsked& asked) {
  const fs::path kept = kept_beside(asked.out);
  SetupTold told = told_so_far(kept);
  const std::vector<SetupStep> only = asked.only.empty() ? std::vector<SetupStep>{} : setup_steps_named(asked.only);
  for (const SetupStep step : only) {
    told.recordings.erase(step);
    if (step == SetupStep::direction) told.top_goes.clear();
  }
  add_typed(told, asked.typed);
  const OpenRecording open = [](const std::string& name) { return open_recording(name); };
  add_recording(told, asked, only, open);
  const SetupStanding standing = standing_of(told, open);
  write_output(kept, text_of(told), {Overwrite::all, {asked.file}});
  const std::string written = write_proved(standing, asked);
  asked.json ? print_json(document_of(standing, told, written)) : print(text_of_setup(standing, told, written));
  const bool not_proved = standing.proof && standing.proof->result != ProofResult::held;
  return standing.again || not_proved ? 1 : 0;
}

}  // namespace

void add_rig_new(CLI::App& rig, int& exit_code) {
  auto asked = std::make_shared<NewRigAsked>();
  asked->typed.name.clear();  // what is not typed stays as it was told
  asked->typed.viewing_end.clear();
  CLI::App* command = rig.add_subcommand("new", "Find out how a rig is cabled and turns, step by step, and prove it");
  command->add_option("file", asked->file, "The recording of the step that was asked for");
  command->add_option("--source", asked->source, std::string("In place of a file, record it now: ") + source_words);
  command->add_option("--seconds", asked->seconds, "How long")->capture_default_str();
  add_live_options(*command, asked->live);
  command->add_option("--out", asked->out, "The rig file; what is told meanwhile is kept beside it, in *.setup.json")
      ->capture_default_str();
  command->add_option("--only", asked->only,
                      "Repeat this step (rest, hand, direction, known, …), or knocks, tach, proof");
  command->add_option("--top", asked->typed.top_goes, "Where the top of the shaft goes, seen from end A towards B")
      ->check(CLI::IsMember({"left", "right"}));
  command->add_option("--viewing-end", asked->typed.viewing_end, "Where the clock is read: A (else) or B")
      ->check(CLI::IsMember({"A", "B"}));
  command->add_option("--name", asked->typed.name, "Of the rig");
  command->add_option("--full-scale", asked->typed.full_scale, "What full scale of the input is, as in \"10 V\"");
  command->add_option("--sensitivity-a", asked->typed.sensitivity[0],
                      "From the sensor's certificate, as in \"100 mV/g\"");
  command->add_option("--sensitivity-b", asked->typed.sensitivity[1], "Likewise");
  command->add_option("--weight", asked->typed.weight, "The known weight, as in \"15 g\"");
  command->add_option("--radius", asked->typed.radius, "Where its middle sits, as in \"39 mm\"");
  add_replace_option(*command, asked->replace);
  command->add_flag("--json", asked->json, "One JSON document for programs");
  command->footer(
      "Example:\n  counterspot rig new\n  counterspot rig new --source alsa:hw:1 --rate \"48 kHz\" --channels 3\n  "
      "counterspot rig "
      "new hand.wav --only hand\nExit code 0: the next step is asked for, or the file is written; 1: a step is asked "
      "again, or the proof did not hold.\n\n" +
      cautions());
  command->callback([asked, &exit_code] { exit_code = go_on(*asked); });
}

}  // namespace counterspot::commands
