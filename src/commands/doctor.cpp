#include <memory>

#include "commands/command.hpp"
#include "commands/live_options.hpp"
#include "commands/log_place.hpp"
#include "commands/output.hpp"
#include "commands/shop.hpp"
#include "counterspot/drawing/lettering.hpp"
#include "counterspot/guide/doctor.hpp"
#include "report/doctor.hpp"

namespace counterspot::commands {

namespace {

struct DoctorTyped {
  std::string rig, source, log, language;
  std::string seconds = "2 s";
  LiveAsked live;
  bool json = false;
};

std::string stated(const DoctorAsked& asked, const std::string& key) {
  for (const ShopValue& value : asked.shop)
    if (value.key == key) return value.value;
  return "";
}

void look_up_shop(DoctorAsked& asked) {
  try {
    asked.shop = shop_values();
  } catch (const Error& error) {
    asked.shop_trouble = error;
  }
}

void look_up_lettering(DoctorAsked& asked) {
  try {
    asked.lettering = lettering_there();
  } catch (const Error& error) {
    asked.no_lettering = error;
  }
}

/// What is typed goes before what the shop states.
LiveAsked live_of(const DoctorTyped& typed, const DoctorAsked& asked) {
  LiveAsked live = typed.live;
  if (live.rate.empty()) live.rate = stated(asked, "source_rate");
  if (live.format.empty()) live.format = stated(asked, "source_format");
  const std::string channels = stated(asked, "source_channels");
  if (live.channels == LiveAsked{}.channels && !channels.empty()) live.channels = std::stoi(channels);
  return live;
}

DoctorAsked asked_of(const DoctorTyped& typed) {
  DoctorAsked asked;
  look_up_shop(asked);
  if (!typed.rig.empty()) asked.shop = nearer_first({{"rig", typed.rig, "--rig", 0}}, asked.shop);
  asked.log = log_file_of(typed.log.empty() ? stated(asked, "log") : typed.log);
  asked.source = typed.source.empty() ? stated(asked, "source") : typed.source;
  asked.live = live_options_of(live_of(typed, asked));
  asked.seconds = parse_quantity(typed.seconds, Dimension::time);
  asked.now_unix_s = now_unix_s();
  look_up_lettering(asked);
  return asked;
}

const Words& words_of(const DoctorTyped& typed, const DoctorAsked& asked) {
  const std::string language = typed.language.empty() ? stated(asked, "language") : typed.language;
  return language.empty() ? words_of_locale() : words_in(language);
}

int run_doctor(const DoctorTyped& typed) {
  const DoctorAsked asked = asked_of(typed);
  std::vector<Examined> found = examine(asked);
  const std::string libraries = libraries_text();
  found.push_back({"libraries", Health::well, {libraries, libraries}, {}});
  typed.json ? print_json(document_of(found)) : print(doctor_text(found, words_of(typed, asked)));
  return has_to_mend(found) ? 1 : 0;
}

}  // namespace

void add_doctor(CLI::App& program, int& exit_code) {
  auto typed = std::make_shared<DoctorTyped>();
  CLI::App* command = program.add_subcommand(
      "doctor", "Look at defaults, rig, shafts, stock, source, disk, log, clock and fonts: what is to be mended");
  command->add_option("--rig", typed->rig, "The rig file (default: the shop's)");
  command->add_option("--source", typed->source, std::string("Listen to it (default: the shop's): ") + source_words);
  command->add_option("--seconds", typed->seconds, "How long")->capture_default_str();
  add_live_options(*command, typed->live);
  add_log_option(*command, typed->log);
  command
      ->add_option(
          "--language", typed->language,
          "Of what people read: en or de (default: that of the locale, else en); documents for programs are in English")
      ->check(CLI::IsMember({"en", "de"}));
  command->add_flag("--json", typed->json, "One JSON document for programs");
  command->footer(
      "Example:\n  counterspot doctor\n  counterspot doctor --source alsa:hw:1 --json\n"
      "Exit code 0: nothing is to be mended; 1: something is.");
  command->callback([typed, &exit_code] { exit_code = run_doctor(*typed); });
}

}  // namespace counterspot::commands
