#include "commands/rig_new.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <memory>

#include "commands/live_options.hpp"
#include "commands/output.hpp"
#include "commands/picture.hpp"
#include "commands/recorded_step.hpp"
#include "commands/shop.hpp"
#include "counterspot/drawing/drawing_rig_setup.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/guide/rig_setup_guide.hpp"
#include "counterspot/recording/capture.hpp"
#include "report/documents.hpp"
#include "report/rig_setup.hpp"
#include "report/sound_devices.hpp"
#include "report/text.hpp"

namespace counterspot::commands {

namespace {

namespace fs = std::filesystem;

struct NewRigAsked {
  std::string file, source, only, without;
  std::string out = "rig.toml";
  std::string seconds = "15 s";
  LiveAsked live;
  SetupTold typed;
  PictureAsked picture;  // and the language of all that is said
  bool record = false;
  bool json = false;
};

/// What is typed of the source goes before what was typed of it at an earlier step, that before the shop's.
SourceAsked source_of(const NewRigAsked& asked, const SetupTold& told) {
  SourceAsked source{asked.source, asked.seconds, asked.live};
  if (!asked.record || !source.source.empty()) return source;
  source.source = told.source;
  if (source.source.empty()) return source_of_shop(source);
  if (source.live.rate.empty()) source.live.rate = told.source_rate;
  if (source.live.format.empty()) source.live.format = told.source_format;
  if (source.live.channels == LiveAsked{}.channels) source.live.channels = live_options_of(told).channels;
  return source;
}

/// Puts what was recorded where it belongs: the step that `--only` names, or the one that is next.
void add_recording(SetupTold& told, const NewRigAsked& asked, const std::vector<SetupStep>& only) {
  const SourceAsked source = source_of(asked, told);
  if (asked.file.empty() && source.source.empty()) return;
  const std::optional<SetupStep> step = only.size() == 1 ? only.front() : standing_of(told).next;
  if (!step) {
    throw Error(Trouble::request, "nothing_asked", "every step has its recording",
                "name the step that is to be repeated, as in --only hand");
  }
  // For its error, before anything is recorded.
  if (*step == SetupStep::direction) add_setup_recording(told, *step, "");
  add_setup_recording(told, *step, asked.file.empty() ? recorded_step(source, asked.out, *step) : asked.file);
  if (asked.file.empty()) record_from(told, source.source, live_options_of(source.live));
}

std::string proof_text(const Proof& proof, const std::string& language) {
  if (proof.result == ProofResult::held) {
    return said(
               {"PROVED  the known weight was found where it is, {:.0f} % off; smallest residual to be expected {:.2g} "
                "g·mm at A, {:.2g} g·mm at B\n",
                "BEWIESEN  das bekannte Gewicht wurde gefunden, wo es sitzt, um {:.0f} % daneben; kleinste zu "
                "erwartende "
                "Restunwucht {:.2g} g·mm an A, {:.2g} g·mm an B\n"},
               100.0 * proof.off, in_g_mm(proof.smallest_residual_kg_m[0]), in_g_mm(proof.smallest_residual_kg_m[1]))
        .in(language);
  }
  std::string text = proof.result == ProofResult::failed
                         ? said({"THE PROOF FAILED, and no rig file is written:\n",
                                 "DER BEWEIS IST MISSLUNGEN, und es wird keine Datei geschrieben:\n"})
                               .in(language)
                         : said({"THE PROOF CANNOT BE SAID, and no rig file is written:\n",
                                 "DER BEWEIS SAGT NICHTS AUS, und es wird keine Datei geschrieben:\n"})
                               .in(language);
  for (const Said& sentence : proof.against) text += fmt::format("  {}\n", sentence.in(language));
  return text + said({"NEXT  Repeat what is named: --only direction, --only knocks, --only tach or --only proof.\n",
                      "WEITER  Wiederholen, was genannt ist: --only direction, --only knocks, --only tach oder --only "
                      "proof.\n"})
                    .in(language);
}

/// What the first step could be recorded from; later ones have shown it.
std::optional<std::vector<SoundDevice>> sources_for(const SetupTold& told) {
  return told.recordings.empty() ? std::optional(sound_devices()) : std::nullopt;
}

/// How the next step is recorded without a word that was typed before; empty: there is no such way.
std::string typed_next(const SetupTold& told) {
  if (!told.source.empty() || !shop_value("source").empty()) return "counterspot rig new --record";
  const auto sources = sources_for(told);
  if (!sources) return "";
  const auto sound = std::ranges::find_if(*sources, [](const SoundDevice& device) {
    return !device.trouble && device.most_channels >= setup_least_channels;
  });
  return sound == sources->end() ? "" : "counterspot rig new " + record_options_text(*sound);
}

std::string text_of_setup(const SetupStanding& standing, const SetupTold& told, const std::string& written,
                          const Words& words) {
  const std::string language = words.language;
  std::string text;
  if (const auto sources = sources_for(told))
    for (const Said& source : sound_device_lines(*sources))
      text += said({"SOURCE  {}\n", "QUELLE  {}\n"}, source).in(language);
  for (const Said& sentence : standing.found) text += said({"FOUND  {}\n", "GEFUNDEN  {}\n"}, sentence).in(language);
  if (standing.again) {
    const auto [why, instead] = words_of(*standing.again, words);
    text += said({"AGAIN  {}: {}\n", "NOCH EINMAL  {}: {}\n"}, why, instead).in(language);
  }
  if (standing.proof) text += proof_text(*standing.proof, language);
  if (standing.next) {
    const SetupInstruction next = instruction_of(*standing.next, told);
    text += said({"NEXT  ({}) {}\n", "WEITER  ({}) {}\n"}, setup_step_name(*standing.next), act_of(next, language))
                .in(language);
    if (const std::string typed = typed_next(told); !typed.empty() && *standing.next != SetupStep::direction)
      text += said({"TYPE  {}\n", "EINGABE  {}\n"}, typed).in(language);
    if (!next.caution.empty()) text += said({"CAUTION  {}\n", "VORSICHT  {}\n"}, next.caution).in(language);
  }
  if (!written.empty()) {
    text += said({"{}: written. Read it, then qualify the rig: 'rig qualify'.\n",
                  "{}: geschrieben. Lesen, dann die Eignungsprüfung machen: 'rig qualify'.\n"},
                 written)
                .in(language);
    if (shop_value("rig").empty())
      text += said({"NEXT  'counterspot shop rig {}' makes it the shop's rig, and need not be typed again.\n",
                    "WEITER  'counterspot shop rig {}' macht sie zur Auswuchtbank der Werkstatt und spart das "
                    "Tippen.\n"},
                   written)
                  .in(language);
    if (shop_value("source").empty() && !told.source.empty())
      text += said({"NEXT  Likewise the source: 'counterspot shop source {}', and source_rate, source_channels.\n",
                    "WEITER  Ebenso die Quelle: 'counterspot shop source {}', und source_rate, source_channels.\n"},
                   told.source)
                  .in(language);
  }
  return text;
}

void draw_rig(const SetupStanding& standing, const PictureAsked& picture) {
  if (!picture) return;
  if (!standing.watched) {
    throw Error(Trouble::request, "not_known", "sensors and tach of the rig are not known yet",
                "do the steps up to 'hand' first");
  }
  const Rig& rig = standing.rig ? *standing.rig : *standing.watched;
  write_picture(rig_picture(rig, standing.rig.has_value(), *picture.words), picture_of(rig), picture, {});
}

int go_on(const NewRigAsked& asked) {
  SetupTold told = setup_beside(asked.out);
  const std::vector<SetupStep> only = asked.only.empty() ? std::vector<SetupStep>{} : setup_steps_named(asked.only);
  ask_again(told, only);
  if (!asked.without.empty()) do_without(told, setup_steps_named(asked.without));
  add_typed(told, asked.typed);
  add_recording(told, asked, only);
  const SetupStanding standing = standing_of(told);
  keep_setup(asked.out, told, {asked.file});
  const std::string written =
      write_proved(standing, told, asked.out, asked.picture.replace, {asked.file}, asked.picture.words->language)
          ? asked.out
          : "";
  if (asked.json) {
    Json document = document_of(standing, told, written);
    if (const auto sources = sources_for(told)) document["sources"] = document_of(*sources);
    print_json(document);
  } else {
    print(text_of_setup(standing, told, written, *asked.picture.words));
  }
  draw_rig(standing, asked.picture);
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
  command->add_flag("--record", asked->record, "Record it from the source of the step before, or the shop's");
  command->add_option("--seconds", asked->seconds, "How long")->capture_default_str();
  add_live_options(*command, asked->live);
  command->add_option("--out", asked->out, "The rig file; what is told meanwhile is kept beside it, in *.setup.json")
      ->capture_default_str();
  command->add_option(
      "--only", asked->only,
      "Repeat this step (rest, hand, direction, known, …), or knocks, tach, proof; or what a rig can do "
      "without: sensitivity (the sensors on a hand-held shaker), sweep (a coast-down)");
  command->add_option("--without", asked->without, "Do without it after all: sensitivity or sweep");
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
  add_picture_options(*command, asked->picture, "the rig as understood");
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
