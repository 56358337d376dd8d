#include <fmt/format.h>

#include <memory>

#include "commands/command.hpp"
#include "commands/output.hpp"
#include "commands/picture.hpp"
#include "commands/shaft_new.hpp"
#include "counterspot/drawing/command_words.hpp"
#include "counterspot/drawing/drawing_shaft.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/placement/shop_words.hpp"
#include "counterspot/solve/assessment.hpp"
#include "report/text.hpp"

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
  const Words* words = &english();
};

/// Dials are read finer than tapes.
std::string dial_text(double length_m, UnitSystem units) {
  return units == UnitSystem::inch ? fmt::format("{:.4f} in", length_m / m_per_in)
                                   : fmt::format("{:.3f} mm", length_m * 1e3);
}

/// What of an assessment is said, in one language.
struct ShaftText {
  const Assessment& a;
  const Shaft& shaft;
  UnitSystem units;
  const Words& words;
  const CommandWords& texts = words.commands();

  std::string number(double value, int decimals) const { return number_text(value, decimals, words); }
  std::string dial(double length_m) const { return with_decimal_sign(dial_text(length_m, units), words); }
};

std::string speed_line(const char* name, const std::optional<double>& speed,
                       const std::optional<SpeedStanding>& standing, const ShaftText& in) {
  if (!speed) return "";
  std::string of_critical;
  if (standing) {
    const char* what = *standing == SpeedStanding::well_below ? in.texts.allowed
                       : *standing == SpeedStanding::near     ? in.texts.near_it
                                                              : in.texts.above_it;
    of_critical = say(in.texts.of_critical, in.number(100.0 * *speed / *in.a.critical_rad_s, 0), what);
  }
  return say(in.texts.speed_line, name, in.number(rpm(*speed), 0), of_critical);
}

std::string speed_text(const ShaftText& in) {
  const Assessment& a = in.a;
  std::string text = in.texts.speeds;
  for (const BeamMode& mode : a.beam.modes) text += speed_line(in.texts.critical_speed, mode.speed_rad_s, {}, in);
  if (a.safe_speed_rad_s)
    text +=
        say(in.texts.speed_line, in.texts.stay_under, in.number(rpm(*a.safe_speed_rad_s), 0), in.texts.three_quarters);
  return text + speed_line(in.texts.service, a.service_speed_rad_s, a.service_standing, in) +
         speed_line(in.texts.balancing, a.balancing_speed_rad_s, a.balancing_standing, in) + "\n";
}

std::string bow_text(const ShaftText& in) {
  const Assessment& a = in.a;
  if (!a.straightness) return "";
  std::string text = in.texts.straightness;
  for (const StationFit& s : a.straightness->stations) {
    text += say(in.texts.station, tape_text(s.position_m, in.units), in.dial(s.indicator_total_m),
                in.dial(std::abs(s.bow_m)), in.number(direction_deg(s.bow_m), 0));
  }
  text += say(in.texts.worst_station, in.dial(a.straightness->worst_indicator_total_m), in.dial(a.indicator_limit_m),
              a.straightness->within ? in.texts.straight_enough : in.texts.straighten);
  if (const auto& s = a.straightness->straighten)
    text += say(in.texts.press_at, tape_text(s->position_m, in.units), in.number(degrees(s->high_side_rad), 0),
                in.dial(s->bow_m));
  for (const BowAtPlane& bow : a.bow) {
    const std::string limit = bow.limit_kg_m ? say(in.texts.bow_limit, in.number(in_g_mm(*bow.limit_kg_m), 0)) : "";
    text += say(in.texts.bow_makes, in.number(in_g_mm(std::abs(bow.unbalance_kg_m)), 0), bow.plane, limit);
  }
  return text + "\n";
}

std::string joint_text(const ShaftText& in) {
  if (!in.a.joints) return "";
  const JointWords& j = *in.a.joints;
  std::string text = in.texts.joints + say(in.texts.yokes, j.yokes_in_line ? in.texts.in_line : in.texts.not_in_line,
                                           in.number(degrees(j.equivalent_angle_rad), 1),
                                           in.number(100.0 * j.speed_ripple_fraction, 2));
  if (degrees(j.equivalent_angle_rad) > largest_equivalent_angle_deg)
    text += say(in.texts.alike_angles, in.number(largest_equivalent_angle_deg, 0));
  return text + say(in.texts.uneven, in.number(100.0 * j.shaft_ripple_fraction, 2));
}

std::string trial_text(const ShaftText& in) {
  if (in.a.trials.empty()) return "";
  std::string text = in.texts.trials;
  const double speed_rad_s = *in.a.balancing_speed_rad_s;
  const auto decimal = [&](const std::string& said) { return with_decimal_sign(said, in.words); };
  for (const PlannedTrial& trial : in.a.trials) {
    const TrialWeight& w = trial.weight;
    text += say(in.texts.trial, in.shaft.planes[static_cast<std::size_t>(trial.piece.plane)].name,
                decimal(mass_text(w.mass_kg, in.units)), in.number(trial.piece.radius_m * 1e3, 1),
                decimal(force_text(w.pull_N, in.units)), in.number(rpm(speed_rad_s), 0), rule_text(w.rule, in.words));
    if (!trial.kind.empty())
      text += say(in.texts.trial_of_stock, trial.kind, in.number(degrees(trial.piece.angle_rad), 0));
    if (const auto gentler = gentler_start(w, speed_rad_s))
      text += say(in.texts.heavy_trial, in.number(100.0 * *w.pull_over_load, 0),
                  decimal(mass_text(gentler->mass_kg, in.units)), in.number(rpm(gentler->speed_rad_s), 0));
  }
  return text + "\n";
}

std::string next_text(const ShaftText& in, const std::string& file) {
  const auto& straight = in.a.straightness;
  const std::string what = in.a.fit_to_spin()              ? say(in.texts.spin_it, file)
                           : straight && !straight->within ? std::string(in.texts.straighten_first)
                                                           : std::string(in.texts.other_speed);
  return say(in.texts.next, what);
}

std::string text_of(const ShaftText& in, const std::string& file) {
  std::string text = put_in(in.texts.shaft_title, in.shaft.id);
  if (in.a.tube_kg) text += say(in.texts.tube_mass, in.number(*in.a.tube_kg, 2));
  text += say(in.texts.modelled_mass, in.number(in.a.beam.mass_kg, 2));
  return text + speed_text(in) + bow_text(in) + joint_text(in) + trial_text(in) + next_text(in, file) + "\n" +
         cautions(in.words);
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
  asked.json ? print_json(document_of(assessment, shaft))
             : print(text_of(ShaftText{assessment, shaft, units, *asked.words}, asked.shaft));
  return assessment.fit_to_spin() ? 0 : 1;
}

}  // namespace

void add_shaft(CLI::App& program, int& exit_code) {
  auto asked = std::make_shared<ShaftAsked>();
  CLI::App* command = program.add_subcommand(
      "shaft", "A shaft before it is spun: critical speeds, straightness, joints, trial weights");
  command->add_option("shaft", asked->shaft, "The shaft file, with what it says of sections, dial readings and joints");
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
  add_language_option(*command, asked->words);
  command->add_flag("--json", asked->json, "One JSON document for programs");
  add_picture_options(*command, asked->picture, "the dial readings along the tube");
  command->footer(
      "Example:\n  counterspot shaft shaft.toml --balancing-speed '1800 rpm' --clamp-holds '250 N'\n"
      "Exit code 0: nothing speaks against spinning it; 1: bent beyond its limit, or a speed too near a critical "
      "speed.");
  add_shaft_new(*command);
  command->callback([asked, command, &exit_code] {
    if (!command->get_subcommands().empty()) return;
    if (asked->shaft.empty())
      throw Error(Trouble::request, "bad_command_line", "it is not said which shaft",
                  "name its file, or write one: 'counterspot shaft new PS-1042'");
    exit_code = run_shaft(*asked);
  });
}

}  // namespace counterspot::commands
