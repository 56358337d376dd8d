#include "commands/rig_model.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <memory>

#include "commands/log_place.hpp"
#include "commands/output.hpp"
#include "commands/picture.hpp"
#include "counterspot/drawing/drawing_rig.hpp"
#include "counterspot/guide/rig_teaching.hpp"
#include "counterspot/learning/rig_teaching.hpp"
#include "files/output_file.hpp"
#include "files/text_file.hpp"
#include "report/rig_model.hpp"
#include "report/text.hpp"

namespace counterspot::commands {

namespace {

struct RigModelAsked {
  std::string log;
  std::string rig;  ///< its name
  std::string rig_file, shaft_file;
  bool anew = false;
  std::string out, from;  ///< files of lessons
  bool json = false;
  PictureAsked picture;
};

/// In UTF-8 a letter may take several bytes, of which all but the first begin with 10.
std::size_t letters_in(const std::string& text) {
  return static_cast<std::size_t>(std::ranges::count_if(text, [](char byte) { return (byte & 0xC0) != 0x80; }));
}

std::string text_of(const RigPart& part) {
  std::size_t widest = 0;
  for (const auto& [what, known] : part.rows) widest = std::max(widest, letters_in(what));
  std::string text = part.heading + "\n";
  for (const auto& [what, known] : part.rows)
    text += fmt::format("  {}{}  {}\n", what, std::string(widest - letters_in(what), ' '), known);
  return text;
}

std::string text_of(const RigShown& shown, const Words& words) {
  const RigModelWords& texts = rig_model_words(words);
  std::string text = say(texts.head, shown.rig, heading_of(shown, words)) + "\n\n";
  for (const RigPart& part : parts_of(shown, words)) text += text_of(part) + "\n";
  const auto sentences = sentences_of(shown, words);
  if (sentences.empty()) text += std::string(texts.nothing_to_look_at) + "\n";
  for (const std::string& sentence : sentences) text += say(texts.look_at, sentence) + "\n";
  return text;
}

void carry(const RigModelAsked& asked, Log& log, const Rig& rig) {
  if (!asked.from.empty()) {
    const auto lessons = carried_of_json(text_of_file(asked.from));
    bring_in(log, rig, {std::filesystem::path(asked.from).filename().string(), now_unix_s(), lessons});
  }
  if (asked.out.empty()) return;
  std::vector<std::filesystem::path> read = files_of_log(asked.log);
  read.emplace_back(asked.from);
  write_output(asked.out, carried_to_json(lessons_to_carry(log, rig, program_name(), now_unix_s())),
               {asked.picture.replace ? Overwrite::all : Overwrite::nothing, read});
}

int run_rig_model(const RigModelAsked& asked) {
  const bool writes = asked.anew || !asked.from.empty();
  Log log = writes ? open_log(asked.log, !asked.from.empty()) : log_to_read(asked.log);
  const Rig rig = asked.rig_file.empty() ? newest_rig(log, asked.rig) : read_rig(asked.rig_file);
  if (asked.anew) log.forget_learnt(rig.name);
  carry(asked, log, rig);
  const RigShown shown = shown_rig(log, rig);
  std::optional<Shaft> shaft;
  std::optional<SpeedAdvice> advice;
  std::vector<std::filesystem::path> read = files_of_log(asked.log);
  if (!asked.shaft_file.empty()) {
    shaft = read_shaft(asked.shaft_file);
    advice = advised_speed(shown.model, *shaft);
    read.emplace_back(asked.shaft_file);
  }
  if (asked.picture)
    write_picture(rig_model_picture(shown.condition, shown.sensors, *asked.picture.words), picture_of(rig),
                  asked.picture, read);
  if (asked.json) {
    Json document = document_of(shown);
    if (advice) document["shaft"] = document_of(*advice);
    print_json(document);
  } else {
    const Words& words = *asked.picture.words;
    print(text_of(shown, words) +
          (advice ? "\n" + text_of(part_of(*advice, *shaft, words)) + "\n" + cautions(words) : ""));
  }
  return 0;
}

}  // namespace

void add_rig_model(CLI::App& rig, int& exit_code) {
  auto asked = std::make_shared<RigModelAsked>();
  CLI::App* command = rig.add_subcommand("model", "What earlier jobs taught of a rig: pedestals, sensors, drift");
  add_log_option(*command, asked->log);
  command->add_flag("--json", asked->json, "One JSON document for programs");
  command->add_option("--rig-name", asked->rig, "Which rig; without it that of the newest job");
  command->add_option("--rig", asked->rig_file, "The rig's file as it is now, with its [pedestal]");
  command->add_option("--shaft", asked->shaft_file, "A shaft's file: which balancing speed suits it on this rig?");
  command->add_option("--out", asked->out,
                      "Write what was learnt to this file, as lessons that another log can take in");
  command->add_option("--from", asked->from,
                      "First take in the lessons of a file that --out wrote on another log, of this same rig");
  command->add_flag("--anew", asked->anew, "Forget what is kept, and learn it again from the jobs");
  add_picture_options(*command, asked->picture, "what each job says of the pedestals, with control limits,");
  command->footer("Example:\n  counterspot rig model --shaft shaft.toml");
  command->callback([asked, &exit_code] { exit_code = run_rig_model(*asked); });
}

}  // namespace counterspot::commands
