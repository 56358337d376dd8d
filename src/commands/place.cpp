#include <algorithm>
#include <chrono>
#include <memory>

#include "commands/command.hpp"
#include "commands/output.hpp"
#include "commands/picture.hpp"
#include "counterspot/drawing/drawing_job.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/solve/plan.hpp"
#include "report/placement.hpp"

namespace counterspot::commands {

namespace {

struct PlaceAsked {
  std::string spins;
  std::string stock;
  std::string end;
  std::string units = "metric";
  std::string gather;
  double resolution = 0.0;
  double patience_s = 2.0;
  double speed_tolerance_percent = 1.0;
  bool temporary = false;
  bool permanent = false;
  bool json = false;
  PictureAsked picture;
  const Words* words = &english();
};

CorrectionOptions options_of(const PlaceAsked& asked, const Shaft& shaft) {
  CorrectionOptions options;
  options.fitting.resolution = asked.resolution;
  const auto end = std::chrono::steady_clock::now() + std::chrono::duration<double>(asked.patience_s);
  options.fitting.out_of_time = [end] { return std::chrono::steady_clock::now() > end; };
  options.temporary = !asked.permanent;
  options.permanent = !asked.temporary;
  if (asked.gather.empty()) return options;
  for (std::size_t p = 0; p < shaft.planes.size(); ++p)
    if (shaft.planes[p].name == asked.gather) options.gather = static_cast<int>(p);
  if (!options.gather)
    throw Error(Trouble::request, "no_such_plane", "the shaft has no plane '" + asked.gather + "'",
                "name a plane of the shaft's file after --gather");
  return options;
}

int run_place(const PlaceAsked& asked) {
  const SpinSet set = read_spins(asked.spins);
  const Stock stock = read_stock(asked.stock, set.shaft);
  SolveOptions solve_options;
  solve_options.speed_tolerance = asked.speed_tolerance_percent / 100.0;
  const Solution solution = solve(set, solve_options);
  const Correction correction =
      plan_correction(set.shaft, solution, stock, set.spins.back().fitted, options_of(asked, set.shaft));
  const ShownPlans shown{set,
                         stock,
                         solution,
                         correction,
                         asked.end.empty() ? set.rig.viewing_end : asked.end,
                         asked.units == "inch" ? UnitSystem::inch : UnitSystem::metric,
                         *asked.words};
  std::vector<std::string> labels;
  for (const SpinEntry& spin : set.spins) labels.push_back(spin.label);
  if (!asked.json) print_warnings(solution.warnings, *asked.words, labels);
  if (asked.picture) {
    auto read = files_of_spins(asked.spins, set);
    read.emplace_back(asked.stock);
    write_picture(placing_picture(set.rig, set.shaft, stock, choices_of(correction), shown.on_shaft(), shown.end,
                                  shown.units, *asked.picture.words),
                  picture_of(set.rig, set.shaft, solution, shown.units), asked.picture, read);
  }
  asked.json ? print_json(document_of(shown)) : print(text_of(shown));
  return std::max(correction.fitting.worst_ratio, correction.fitting.fixed_ratio) <= 1.0 ? 0 : 1;
}

}  // namespace

void add_place(CLI::App& program, int& exit_code) {
  auto asked = std::make_shared<PlaceAsked>();
  CLI::App* command = program.add_subcommand("place", "From a set of spins to pieces you have, where you may put them");
  command->add_option("spins", asked->spins, "The spin file; the last spin says what is on the shaft now")->required();
  command->add_option("--stock", asked->stock, "The stock file: what there is, and where it may go")->required();
  command
      ->add_option("--end", asked->end,
                   "Read clock positions at this end of the shaft (default: the rig's viewing end)")
      ->check(CLI::IsMember({"A", "B"}));
  command->add_option("--units", asked->units, "Tape and scale: metric or inch (to 1/16)")
      ->check(CLI::IsMember({"metric", "inch"}))
      ->capture_default_str();
  auto* temporary = command->add_flag("--temporary", asked->temporary, "Clamps only");
  command->add_flag("--permanent", asked->permanent, "No clamps")->excludes(temporary);
  command->add_option("--gather", asked->gather, "Turn what is fitted at this plane into one welded piece");
  command
      ->add_option(
          "--resolution", asked->resolution,
          "0: the least worst ratio, however many pieces; else ratios within one step of this size count as alike, "
          "and fewer pieces win")
      ->check(CLI::Range(0.0, 1.0))
      ->capture_default_str();
  command->add_option("--patience", asked->patience_s, "Seconds after which the best so far is shown, with the gap")
      ->check(CLI::Range(0.1, 3600.0))
      ->capture_default_str();
  command
      ->add_option("--speed-tolerance", asked->speed_tolerance_percent,
                   "Largest spread of the spins' speeds, in percent")
      ->check(CLI::Range(0.0, 10.0))
      ->capture_default_str();
  add_language_option(*command, asked->words);
  command->add_flag("--json", asked->json, "One JSON document for programs");
  add_picture_options(*command, asked->picture,
                      "the clock face of each plane, beside it the choice with fewer pieces,");
  command->footer(
      "Example:\n  counterspot place spins.toml --stock stock.toml --picture place.png\n"
      "Exit code 0: what is shown brings the shaft within limit, by prediction; 1: it does not.");
  command->callback([asked, &exit_code] { exit_code = run_place(*asked); });
}

}  // namespace counterspot::commands
