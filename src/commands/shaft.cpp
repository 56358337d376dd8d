#include <fmt/format.h>

#include <memory>

#include "commands/command.hpp"
#include "commands/output.hpp"
#include "commands/picture.hpp"
#include "counterspot/drawing/drawing_shaft.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/placement/shop_words.hpp"
#include "counterspot/solve/assessment.hpp"

namespace counterspot::commands {

namespace {

struct ShaftAsked {
  std::string shaft;
  std::string balancing_speed;
  std::string clamp_holds;
  std::string earlier;
  std::string stock;
  std::string units = "metric";
  bool json = false;
  PictureAsked picture;
};

/// Dials are read finer than tapes.
std::string dial_text(double length_m, UnitSystem units) {
  return units == UnitSystem::inch ? fmt::format("{:.4f} in", length_m / m_per_in)
                                   : fmt::format("{:.3f} mm", length_m * 1e3);
}

std::string speed_line(const char* name, const std::optional<double>& speed,
                       const std::optional<SpeedStanding>& standing, const Assessment& a) {
  if (!speed) return "";
  if (!standing) return fmt::format("  {:<16} {:.0f} rpm\n", name, rpm(*speed));
  return fmt::format("  {:<16} {:.0f} rpm, {:.0f} % of the first critical speed: {}\n", name, rpm(*speed),
                     100.0 * *speed / *a.critical_rad_s,
                     *standing == SpeedStanding::well_below
                         ? "allowed"
                         : fmt::format("{} it, do not run here", standing_name(*standing)));
}

std::string speed_text(const Assessment& a) {
  std::string text = "SPEEDS\n";
  for (const BeamMode& mode : a.beam.modes)
    text += fmt::format("  critical speed   {:.0f} rpm\n", rpm(mode.speed_rad_s));
  if (a.safe_speed_rad_s)
    text +=
        fmt::format("  stay under       {:.0f} rpm (75 % of the first, common practice)\n", rpm(*a.safe_speed_rad_s));
  return text + speed_line("service", a.service_speed_rad_s, a.service_standing, a) +
         speed_line("balancing", a.balancing_speed_rad_s, a.balancing_standing, a) + "\n";
}

std::string bow_text(const Assessment& a, UnitSystem units) {
  if (!a.straightness) return "";
  std::string text = "STRAIGHTNESS\n";
  for (const StationFit& s : a.straightness->stations) {
    text +=
        fmt::format("  at {:<9} indicator total {}, bow {} towards {:.0f} deg\n", tape_text(s.position_m, units),
                    dial_text(s.indicator_total_m, units), dial_text(std::abs(s.bow_m), units), direction_deg(s.bow_m));
  }
  text += fmt::format("  worst {} of {}: {}\n", dial_text(a.straightness->worst_indicator_total_m, units),
                      dial_text(a.indicator_limit_m, units),
                      a.straightness->within ? "straight enough" : "straighten before balancing");
  if (const auto& s = a.straightness->straighten) {
    text += fmt::format("  press at {}, on the side at {:.0f} deg, so that the middle comes back by {}\n",
                        tape_text(s->position_m, units), degrees(s->high_side_rad), dial_text(s->bow_m, units));
  }
  for (const BowAtPlane& bow : a.bow) {
    text += fmt::format("  the bow alone makes {:.0f} g·mm at plane {}{}\n", in_g_mm(std::abs(bow.unbalance_kg_m)),
                        bow.plane, bow.limit_kg_m ? fmt::format(", limit {:.0f} g·mm", in_g_mm(*bow.limit_kg_m)) : "");
  }
  return text + "\n";
}

std::string joint_text(const Assessment& a) {
  if (!a.joints) return "";
  const JointWords& j = *a.joints;
  std::string text = "JOINTS\n";
  text +=
      fmt::format("  yokes {}; together they disturb like one joint at {:.1f} deg: {:.2f} % of speed, twice a turn\n",
                  j.yokes_in_line ? "in line" : "NOT in line, set them in line", degrees(j.equivalent_angle_rad),
                  100.0 * j.speed_ripple_fraction);
  if (degrees(j.equivalent_angle_rad) > largest_equivalent_angle_deg)
    text += fmt::format("  over {:.0f} deg (common practice): make both joint angles alike\n",
                        largest_equivalent_angle_deg);
  return text + fmt::format(
                    "  the shaft itself runs unevenly by {:.2f} %, twice a turn: no weight removes what comes twice a "
                    "turn\n\n",
                    100.0 * j.shaft_ripple_fraction);
}

std::string trial_text(const Assessment& a, const Shaft& shaft, UnitSystem units) {
  if (a.trials.empty()) return "";
  std::string text = "TRIAL WEIGHTS\n";
  for (const PlannedTrial& trial : a.trials) {
    const TrialWeight& w = trial.weight;
    text += fmt::format("  {}  {} at radius {:.1f} mm, pulls with {} at {:.0f} rpm ({})\n",
                        shaft.planes[static_cast<std::size_t>(trial.piece.plane)].name, mass_text(w.mass_kg, units),
                        trial.piece.radius_m * 1e3, force_text(w.pull_N, units), rpm(*a.balancing_speed_rad_s),
                        trial_rule_name(w.rule));
    if (!trial.kind.empty())
      text += fmt::format("     of the stock: {}, at {:.0f} deg from the mark, against rotation\n", trial.kind,
                          degrees(trial.piece.angle_rad));
    if (w.pull_over_load && *w.pull_over_load > 0.5)
      text += fmt::format("     that is {:.0f} % of the weight on the support: begin with less, or slower\n",
                          100.0 * *w.pull_over_load);
  }
  return text + "\n";
}

std::string text_of(const Assessment& a, const Shaft& shaft, UnitSystem units) {
  std::string text = fmt::format("SHAFT {}", shaft.id);
  if (a.tube_kg) text += fmt::format("   tube {:.2f} kg", *a.tube_kg);
  text += fmt::format("   modelled {:.2f} kg\n\n", a.beam.mass_kg);
  return text + speed_text(a) + bow_text(a, units) + joint_text(a) + trial_text(a, shaft, units) + cautions();
}

/// @throws Error(request, "no_readings").
TubeView view_of(const Assessment& assessment, const Shaft& shaft, UnitSystem units) {
  if (!assessment.straightness) {
    throw Error(Trouble::request, "no_readings", "the shaft file has no dial readings, and the picture shows those",
                "add a [straightness] section with stations, or leave --picture out");
  }
  TubeView view;
  view.straightness = *assessment.straightness;
  view.indicator_limit_m = assessment.indicator_limit_m;
  view.units = units;
  if (!shaft.supports) return view;
  view.from_m = shaft.supports->a_m;
  view.to_m = shaft.supports->b_m;
  return view;
}

int run_shaft(const ShaftAsked& asked) {
  const Shaft shaft = read_shaft(asked.shaft);
  AssessmentOptions options;
  if (!asked.balancing_speed.empty())
    options.balancing_speed_rad_s = parse_quantity(asked.balancing_speed, Dimension::speed);
  if (!asked.clamp_holds.empty()) options.clamp_holds_N = parse_quantity(asked.clamp_holds, Dimension::force);
  std::optional<Stock> stock;
  if (!asked.stock.empty()) stock = read_stock(asked.stock, shaft);
  if (stock) options.stock = &*stock;
  std::optional<SpinSet> earlier_spins;
  std::optional<Solution> earlier;
  if (!asked.earlier.empty()) earlier_spins = read_spins(asked.earlier);
  if (earlier_spins) earlier = solve(*earlier_spins);
  if (earlier) options.earlier = &*earlier;
  const Assessment assessment = assess_shaft(shaft, options);
  const UnitSystem units = asked.units == "inch" ? UnitSystem::inch : UnitSystem::metric;
  if (asked.picture) {
    auto read = earlier_spins ? files_of_spins(asked.earlier, *earlier_spins) : std::vector<std::filesystem::path>();
    read.emplace_back(asked.shaft);
    PictureOf of;
    of.shaft = shaft.id;
    of.units = units;
    write_picture(straightness_picture(view_of(assessment, shaft, units), *asked.picture.words), of, asked.picture,
                  read);
  }
  asked.json ? print_json(document_of(assessment, shaft)) : print(text_of(assessment, shaft, units));
  return assessment.fit_to_spin() ? 0 : 1;
}

}  // namespace

void add_shaft(CLI::App& program, int& exit_code) {
  auto asked = std::make_shared<ShaftAsked>();
  CLI::App* command = program.add_subcommand(
      "shaft", "A shaft before it is spun: critical speeds, straightness, joints, trial weights");
  command->add_option("shaft", asked->shaft, "The shaft file, with what it says of sections, dial readings and joints")
      ->required();
  command->add_option("--balancing-speed", asked->balancing_speed,
                      "Speed of the balancing spins, like '1800 rpm' (default: service)");
  command->add_option("--clamp-holds", asked->clamp_holds,
                      "Pull that the clamp of a trial weight is stated to hold, like '250 N'");
  command->add_option("--stock", asked->stock, "The stock file: trial weights are of what there is, where it may go");
  command->add_option("--earlier", asked->earlier,
                      "Spin file of a like shaft on this rig: its coefficients choose the trial weights");
  command->add_option("--units", asked->units, "Tape, dial and scale: metric or inch")
      ->check(CLI::IsMember({"metric", "inch"}))
      ->capture_default_str();
  command->add_flag("--json", asked->json, "One JSON document for programs");
  add_picture_options(*command, asked->picture, "the dial readings along the tube");
  command->footer(
      "Example:\n  counterspot shaft shaft.toml --balancing-speed '1800 rpm' --clamp-holds '250 N'\n"
      "Exit code 0: nothing speaks against spinning it; 1: bent beyond its limit, or a speed too near a critical "
      "speed.");
  command->callback([asked, &exit_code] { exit_code = run_shaft(*asked); });
}

}  // namespace counterspot::commands
