#include "commands/shaft_new.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <memory>

#include "commands/asking.hpp"
#include "commands/command.hpp"
#include "commands/output.hpp"
#include "commands/shop.hpp"
#include "counterspot/drawing/command_words.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/files/shop.hpp"
#include "counterspot/tolerance/tolerance.hpp"
#include "files/output_file.hpp"
#include "report/text.hpp"

namespace counterspot::commands {

namespace {

namespace fs = std::filesystem;

struct NewShaftAsked {
  std::string id, like, out;
  FileAnswers answers;
  bool json = false;
  const Words* words = &english();
};

fs::path file_of(const NewShaftAsked& asked) {
  if (!asked.out.empty()) return asked.out;
  if (asked.id.find('/') != std::string::npos)
    throw Error(Trouble::request, "bad_value", fmt::format("'{}' cannot be the name of a file", asked.id),
                "name the file with --out");
  return fs::path(shop_value("shafts")) / (asked.id + ".toml");
}

std::string next_of(const NewShaftAsked& asked, const fs::path& file) {
  if (shop_value("shafts").empty())
    return fmt::format("counterspot shop shafts {}", file.has_parent_path() ? file.parent_path().string() : ".");
  return fmt::format("counterspot job open {}", asked.out.empty() ? asked.id : file.string());
}

void run_shaft_new(NewShaftAsked& asked) {
  const fs::path file = file_of(asked);
  admit_new_file(file);
  std::optional<Shaft> like;
  if (!asked.like.empty()) like = read_shaft(shaft_file_named(asked.like, shop_value("shafts")));
  ask_rest(asked.answers,
           {[&](const FileAnswers& answers) { return like ? std::nullopt : next_shaft_question(answers); },
            check_shaft_answer},
           *asked.words);
  const std::string text = new_shaft_text(asked.id, asked.answers, like);
  const Limits limits = limits_of(read_shaft_text(text, file));  // never leave a file that cannot be used
  write_output(file, text, {});
  const std::string next = next_of(asked, file);
  if (asked.json) return print_json({{"written", file.string()}, {"next", next}, {"limit", document_of(limits)}});
  print_warnings(limits.warnings, *asked.words);
  std::string told = written_text(file.string(), *asked.words);
  for (const PlaneLimit& plane : limits.planes)
    told += said({"Permissible residual unbalance in plane {}: {:.4g} g·mm\n",
                  "Zulässige Restunwucht in Ebene {}: {:.4g} g·mm\n"},
                 plane.name, in_g_mm(plane.limit_kg_m))
                .in(asked.words->language);
  print(told + say(asked.words->commands().next, next));
}

}  // namespace

void add_shaft_new(CLI::App& shaft) {
  auto asked = std::make_shared<NewShaftAsked>();
  CLI::App* command = shaft.add_subcommand(
      "new", "Write a shaft's file: asks what a tape measure and a scale give, one question at a time");
  command->add_option("id", asked->id, "What it is called, such as PS-1050")->required();
  command->add_option("--like", asked->like,
                      "A copy of this shaft (its file, or its id in the shop's folder), but for what is typed");
  command->add_option("--out", asked->out, "The file (default: the id, in the shop's folder of shafts)");
  add_answer_options(*command, shaft_questions(), asked->answers);
  add_language_option(*command, asked->words);
  command->add_flag("--json", asked->json, "One JSON document for programs");
  command->footer(
      "Example:\n  counterspot shaft new PS-1042\n  counterspot shaft new PS-1050 --like PS-1042 --mass '14.9 kg'\n"
      "Lines of standard input answer what is not typed. A file that is there is never written over.\n\n" +
      cautions());
  command->callback([asked] { run_shaft_new(*asked); });
}

}  // namespace counterspot::commands
