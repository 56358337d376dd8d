#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <chrono>
#include <memory>

#include "commands/command.hpp"
#include "commands/output.hpp"
#include "commands/picture.hpp"
#include "counterspot/correction.hpp"
#include "counterspot/drawing_job.hpp"
#include "counterspot/files.hpp"
#include "counterspot/shop_words.hpp"
#include "counterspot/trial.hpp"

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
};

/// All that is shown, and how.
struct ShownPlans {
  const SpinSet& set;
  const Stock& stock;
  const Solution& solution;
  const Correction& correction;
  std::string end;
  UnitSystem units;

  const std::vector<FittedWeight>& on_shaft() const { return set.spins.back().fitted; }
  Spot spot(double angle_rad) const {
    const auto& tube = set.shaft.tube;
    return spot_at(angle_rad, rotation_seen_from(set.rig, end),
                   tube ? std::optional(tube->outside_diameter_m) : std::nullopt);
  }
  const std::string& plane(int index) const { return set.shaft.planes[static_cast<std::size_t>(index)].name; }
  std::optional<double> pull(const Placed& placed) const {
    if (!solution.speed_rad_s || placed.piece.acting_kg <= 0.0) return std::nullopt;
    return pull_N(placed.piece.acting_kg, placed.radius_m, *solution.speed_rad_s);
  }
};

const char* way_name(Way way) {
  switch (way) {
    case Way::weld: return "weld";
    case Way::clamp: return "clamp";
    case Way::grind: return "grind";
    case Way::drill: return "drill";
  }
  return "";
}

Json json_of(const Spot& spot) {
  return {{"angle_deg", degrees(spot.angle_rad)},
          {"clock", spot.clock.text()},
          {"arc_mm", spot.arc ? Json(spot.arc->length_m * 1e3) : Json(nullptr)},
          {"arc_direction", spot.arc ? Json(arc_direction_name(spot.arc->direction)) : Json(nullptr)}};
}

Json json_of(const Placed& placed, const ShownPlans& shown) {
  const auto pull = shown.pull(placed);
  Json piece = {{"plane", shown.plane(placed.plane)},
                {"kind", shown.stock.kinds[static_cast<std::size_t>(placed.piece.kind)].name},
                {"way", way_name(placed.piece.way)},
                {"weighed_g", placed.piece.weighed_kg * 1e3},
                {"acting_g", placed.piece.acting_kg * 1e3},
                {"length_mm", placed.piece.length_m > 0.0 ? Json(placed.piece.length_m * 1e3) : Json(nullptr)},
                {"radius_mm", placed.radius_m * 1e3},
                {"pull_n", pull ? Json(*pull) : Json(nullptr)},
                {"work", work_text(shown.stock, placed.piece, shown.units)},
                {"place", spot_text(shown.spot(placed.angle_rad), shown.units)}};
  piece.update(json_of(shown.spot(placed.angle_rad)));
  return piece;
}

Json json_of(const std::vector<Placed>& placed, const ShownPlans& shown) {
  Json list = Json::array();
  for (const Placed& each : placed) list.push_back(json_of(each, shown));
  return list;
}

Json held_of(const std::vector<Phasor>& predicted, const Aim& aim) {
  Json held = Json::array();
  for (std::size_t i = 0; i < aim.size(); ++i) {
    held.push_back({{"place", aim[i].name},
                    {"limit_gmm", in_g_mm(aim[i].limit)},
                    {"present_gmm", in_g_mm(std::abs(aim[i].present))},
                    {"predicted_gmm", in_g_mm(std::abs(predicted[i]))}});
  }
  return held;
}

Json json_of(const FittingSummary& fitting, const ShownPlans& shown) {
  return {{"status", fitting.status == FittingStatus::optimal ? "optimal" : "out_of_time"},
          {"worst_ratio", fitting.worst_ratio},
          {"bound_ratio", fitting.bound_ratio},
          {"fixed_ratio", fitting.fixed_ratio},
          {"weighed_g", fitting.weighed_kg * 1e3},
          {"looked_at", fitting.looked_at},
          {"pieces", json_of(fitting.placed, shown)},
          {"held", held_of(fitting.predicted, shown.correction.aim)}};
}

Json json_of(const FittedWeight& weight, const ShownPlans& shown) {
  return {{"plane", shown.plane(weight.plane)},
          {"mass_g", weight.mass_kg * 1e3},
          {"radius_mm", weight.radius_m * 1e3},
          {"angle_deg", degrees(weight.angle_rad)}};
}

Json json_of(const Plan& plan, const ShownPlans& shown) {
  Json slides = Json::array();
  for (const Slide& slide : plan.slides) {
    slides.push_back(
        {{"from", json_of(shown.on_shaft()[slide.fitted], shown)}, {"to", json_of(shown.spot(slide.to_rad))}});
  }
  Json taken_off = Json::array();
  for (std::size_t i : plan.taken_off) taken_off.push_back(json_of(shown.on_shaft()[i], shown));
  return {{"effort", effort_name(plan.effort)},
          {"worst_ratio", plan.worst_ratio},
          {"slides", slides},
          {"taken_off", taken_off},
          {"added", json_of(plan.added, shown)},
          {"held", held_of(plan.predicted, shown.correction.aim)}};
}

Json json_of(const ShownPlans& shown) {
  const Correction& correction = shown.correction;
  Json plans = Json::array();
  for (const Plan& plan : correction.plans) plans.push_back(json_of(plan, shown));
  Json document = {{"shaft", shown.set.shaft.id},
                   {"speed_rpm", shown.solution.speed_rad_s ? Json(rpm(*shown.solution.speed_rad_s)) : Json(nullptr)},
                   {"end", shown.end},
                   {"verdict", verdict_name(shown.solution.judgement.verdict)}};
  document.update(json_of(correction.fitting, shown));
  document["fewer_pieces"] = correction.fewer ? json_of(*correction.fewer, shown) : Json(nullptr);
  document["closed_planes"] = correction.closed;
  document["if_open"] = correction.if_open ? json_of(*correction.if_open, shown) : Json(nullptr);
  document["plans"] = plans;
  document["gathered"] = correction.gathered ? json_of(*correction.gathered, shown) : Json(nullptr);
  document["left_out"] = correction.left_out;
  document["warnings"] = json_of(shown.solution.warnings);
  return document;
}

std::string piece_lines(const Placed& placed, const ShownPlans& shown) {
  std::string text = fmt::format("  {}  {}\n     at {}\n", shown.plane(placed.plane),
                                 work_text(shown.stock, placed.piece, shown.units),
                                 spot_text(shown.spot(placed.angle_rad), shown.units));
  if (const auto pull = shown.pull(placed))
    text += fmt::format("     it pulls with {} at balancing speed\n", force_text(*pull, shown.units));
  return text;
}

std::string held_lines(const std::vector<Phasor>& predicted, const Aim& aim) {
  std::string text;
  for (std::size_t i = 0; i < aim.size(); ++i) {
    const bool support = aim[i].name.starts_with("support");
    text += fmt::format("  {:<16} now {:>5.0f}   expected {:>5.0f}   limit {:>5.0f} g·mm\n",
                        support ? aim[i].name : "plane " + aim[i].name, in_g_mm(std::abs(aim[i].present)),
                        in_g_mm(std::abs(predicted[i])), in_g_mm(aim[i].limit));
  }
  return text;
}

double worst_of(const FittingSummary& fitting) {
  return std::max(fitting.worst_ratio, fitting.fixed_ratio);
}

/// Of a limit: whole percent, or two digits where that would say nothing.
std::string percent(double ratio) {
  if (ratio < 5e-5) return "0 %";
  return 100.0 * ratio < 9.95 ? fmt::format("{:.2g} %", 100.0 * ratio) : fmt::format("{:.0f} %", 100.0 * ratio);
}

std::string counted(std::size_t pieces) {
  return pieces == 1 ? "1 piece" : fmt::format("{} pieces", pieces);
}

std::string text_of(const FittingSummary& fitting, const std::string& heading, const ShownPlans& shown) {
  std::string text = heading;
  text += "\n";
  for (const Placed& placed : fitting.placed) text += piece_lines(placed, shown);
  if (fitting.placed.empty()) text += "  nothing: no piece makes it better\n";
  text += held_lines(fitting.predicted, shown.correction.aim);
  return text +
         (fitting.status == FittingStatus::optimal
              ? fmt::format("  worst {} of a limit; proven: no other choice is better\n\n", percent(worst_of(fitting)))
              : fmt::format("  worst {} of a limit; not proven in the time allowed: the best there is lies between {} "
                            "and this\n\n",
                            percent(worst_of(fitting)), percent(fitting.bound_ratio)));
}

std::string fewer_text(const ShownPlans& shown) {
  const auto& fewer = shown.correction.fewer;
  if (!fewer) return "";
  return text_of(
      *fewer,
      fmt::format("OR WITH {} instead of {}: as good on the shaft, where setting to 1 % and 1 deg leaves more "
                  "than the difference",
                  counted(fewer->placed.size()), shown.correction.fitting.placed.size()),
      shown);
}

constexpr double cost_worth_a_word = 0.1;  // of a limit

/// What the closed planes cost, at every place that is worse off for them.
std::string closed_text(const ShownPlans& shown) {
  const Correction& correction = shown.correction;
  if (!correction.if_open) return "";
  std::string text = fmt::format("CLOSED PLANE {}  what that costs\n", fmt::join(correction.closed, ", "));
  bool costs = false;
  for (std::size_t i = 0; i < correction.aim.size(); ++i) {
    const AimRow& row = correction.aim[i];
    const double closed = std::abs(correction.fitting.predicted[i]);
    const double open = std::abs(correction.if_open->predicted[i]);
    if (closed - open < cost_worth_a_word * row.limit) continue;
    costs = true;
    text += fmt::format("  {} keeps {:.0f} g·mm, {:.0f} % of its limit; open, it would come to {:.0f} g·mm, {:.0f} %\n",
                        row.name.starts_with("support") ? row.name : "plane " + row.name, in_g_mm(closed),
                        100.0 * closed / row.limit, in_g_mm(open), 100.0 * open / row.limit);
  }
  if (!costs) return text + "  nothing: the other planes do as well without it\n\n";
  return text + fmt::format("  open, the worst would be {:.0f} % of a limit instead of {:.0f} %, with {}\n\n",
                            100.0 * worst_of(*correction.if_open), 100.0 * worst_of(correction.fitting),
                            counted(correction.if_open->placed.size()));
}

std::string text_of(const Plan& plan, const ShownPlans& shown) {
  std::string text =
      fmt::format("{:<10} worst {:.0f} % of a limit\n", effort_name(plan.effort), 100.0 * plan.worst_ratio);
  for (const Slide& slide : plan.slides) {
    const FittedWeight& weight = shown.on_shaft()[slide.fitted];
    text += fmt::format("  {}  slide {} from {} to\n     {}\n", shown.plane(weight.plane),
                        mass_text(weight.mass_kg, shown.units), shown.spot(weight.angle_rad).clock.text(),
                        spot_text(shown.spot(slide.to_rad), shown.units));
  }
  for (std::size_t i : plan.taken_off) {
    const FittedWeight& weight = shown.on_shaft()[i];
    text += fmt::format("  {}  take off {} at {}\n", shown.plane(weight.plane), mass_text(weight.mass_kg, shown.units),
                        shown.spot(weight.angle_rad).clock.text());
  }
  for (const Placed& placed : plan.added) text += piece_lines(placed, shown);
  return text;
}

std::string text_of(const ShownPlans& shown) {
  const Correction& correction = shown.correction;
  std::string text = fmt::format("SHAFT {}   {}   clock seen from end {}, the mark at 12:00\n\n", shown.set.shaft.id,
                                 shown.stock.name, shown.end);
  text += fmt::format("NOW  {}, worst {:.0f} % of a limit\n\n", verdict_name(shown.solution.judgement.verdict),
                      100.0 * worst_ratio(correction.aim, std::vector<Phasor>(shown.set.shaft.planes.size(), 0.0)));
  if (!correction.plans.empty()) {
    text += "WITH WHAT IS ON THE SHAFT, least effort first\n";
    for (const Plan& plan : correction.plans) text += text_of(plan, shown);
    text += "\n";
  }
  text += text_of(correction.fitting, "FIT, on top of what is on the shaft", shown);
  text += fewer_text(shown) + closed_text(shown);
  if (correction.gathered)
    text += text_of(*correction.gathered, "GATHER the weights of the plane into one welded piece", shown);
  for (const std::string& kind : correction.left_out)
    text += fmt::format("LEFT OUT  {}: a lump would pull harder at balancing speed than its clamp is stated to hold\n",
                        kind);
  return text +
         "NEXT  Fit, weigh and tape what you fitted, spin again, and add that spin with what is really on the "
         "shaft.\n\n" +
         cautions();
}

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
                         asked.units == "inch" ? UnitSystem::inch : UnitSystem::metric};
  if (!asked.json) print_warnings(solution.warnings);
  if (asked.picture) {
    auto read = files_of_spins(asked.spins, set);
    read.emplace_back(asked.stock);
    write_picture(
        placing_picture(set.rig, set.shaft, stock, correction.fitting.placed, shown.on_shaft(), shown.end, shown.units),
        asked.picture, read);
  }
  asked.json ? print_json(json_of(shown)) : print(text_of(shown));
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
  command->add_flag("--json", asked->json, "One JSON document for programs");
  add_picture_options(*command, asked->picture, "the clock face of each plane");
  command->footer(
      "Example:\n  counterspot place spins.toml --stock stock.toml --picture place.png\n"
      "Exit code 0: what is shown brings the shaft within limit, by prediction; 1: it does not.");
  command->callback([asked, &exit_code] { exit_code = run_place(*asked); });
}

}  // namespace counterspot::commands
