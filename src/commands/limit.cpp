#include <fmt/format.h>

#include <memory>

#include "commands/command.hpp"
#include "commands/output.hpp"
#include "counterspot/drawing/command_words.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/tolerance/tolerance.hpp"
#include "report/job_text.hpp"
#include "report/text.hpp"

namespace counterspot::commands {

namespace {

struct LimitAsked {
  std::string shaft;
  std::string grade;
  std::string mass;
  std::string speed;
  std::optional<double> share_a;
  bool json = false;
  const Words* words = &english();
};

/// A shaft of which only grade, mass and service speed are known, with two planes named after the ends.
Shaft typed_shaft(const LimitAsked& asked) {
  if (asked.grade.empty() || asked.mass.empty() || asked.speed.empty()) {
    throw Error(Trouble::request, "missing_option",
                "a limit needs a shaft file, or a grade, a mass and a service speed",
                "write --shaft shaft.toml, or --grade G16 --mass 14.6kg --speed 3200rpm");
  }
  Shaft shaft;
  shaft.grade = asked.grade;
  shaft.mass_kg = parse_quantity(asked.mass, Dimension::mass);
  shaft.service_speed_rad_s = parse_quantity(asked.speed, Dimension::speed);
  for (auto value : {shaft.mass_kg, shaft.service_speed_rad_s}) {
    if (value && !(*value > 0.0))
      throw Error(Trouble::request, "bad_value", "mass and speed must be more than zero",
                  "write them like --mass 14.6kg --speed 3200rpm");
  }
  shaft.planes = {{"A", 0.0, 1.0}, {"B", 1.0, 1.0}};
  return shaft;
}

std::string line_of(const std::string& place, double limit_kg_m) {
  return fmt::format("{:<12} {:>9.4g} g·mm   {:>8.3g} oz·in\n", place, in_g_mm(limit_kg_m), in_oz_in(limit_kg_m));
}

std::string text_of(const Limits& limits, const Words& words) {
  const CommandWords& texts = words.commands();
  std::string text = texts.permissible;
  if (limits.total_kg_m) {
    text += line_of(texts.whole_shaft, *limits.total_kg_m);
    text += fmt::format("{:<12} ", "") +
            say(texts.off_axis, fmt::format("{:>9.4g}", *limits.specific_m * 1e6), limits.grade) + "\n";
  }
  for (const PlaneLimit& plane : limits.planes)
    text += line_of(put_in(texts.plane_named, plane.name), plane.limit_kg_m);
  for (const SupportLimit& support : limits.supports)
    text += line_of(held_place_text(at_support(support.support), words), support.limit_kg_m);
  return with_decimal_sign(text, words) + say(texts.next, texts.hold_against);
}

void run_limit(const LimitAsked& asked) {
  Limits limits = limits_of(asked.shaft.empty() ? typed_shaft(asked) : read_shaft(asked.shaft), asked.share_a);
  if (asked.json) return print_json(document_of(limits));
  print_warnings(limits.warnings, *asked.words);
  print(text_of(limits, *asked.words));
}

}  // namespace

void add_limit(CLI::App& program, int&) {
  auto asked = std::make_shared<LimitAsked>();
  CLI::App* command = program.add_subcommand("limit", "Permissible residual unbalance, in all and for each plane");
  CLI::Option* shaft = command->add_option("--shaft", asked->shaft, "The shaft file");
  command->add_option("--grade", asked->grade, "Balance quality grade, such as G16")->excludes(shaft);
  command->add_option("--mass", asked->mass, "Mass of the shaft with its unit, such as 14.6kg")->excludes(shaft);
  command->add_option("--speed", asked->speed, "Service speed with its unit, such as 3200rpm")->excludes(shaft);
  command->add_option("--share-a", asked->share_a, "Share of end A, 0.3 to 0.7; from the centre of mass if not given");
  add_language_option(*command, asked->words);
  command->add_flag("--json", asked->json, "One JSON document for programs");
  command->footer(
      "Examples:\n  counterspot limit --grade G16 --mass 14.6kg --speed 3200rpm\n  counterspot limit --shaft "
      "shaft.toml --json");
  command->callback([asked] { run_limit(*asked); });
}

}  // namespace counterspot::commands
