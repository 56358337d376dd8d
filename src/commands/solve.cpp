#include <fmt/format.h>

#include <algorithm>
#include <memory>

#include "commands/command.hpp"
#include "commands/documents.hpp"
#include "commands/output.hpp"
#include "commands/picture.hpp"
#include "counterspot/drawing_job.hpp"
#include "counterspot/files.hpp"
#include "counterspot/solution.hpp"

namespace counterspot::commands {

namespace {

struct Asked {
  std::string spins;
  double speed_tolerance_percent = 1.0;
  bool plain = false;
  bool json = false;
  PictureAsked picture;
};

Json known(bool is_known, double value) {
  return is_known ? Json(value) : Json(nullptr);
}

Json json_of(const FitInstruction& fit) {
  return {{"action", "add"},
          {"mass_g", fit.mass_kg * 1e3},
          {"radius_mm", fit.radius_m * 1e3},
          {"angle_deg", degrees(fit.angle_rad)},
          {"clock", fit.clock.text()},
          {"arc_mm", fit.arc ? Json(fit.arc->length_m * 1e3) : Json(nullptr)},
          {"arc_direction", fit.arc ? Json(arc_direction_name(fit.arc->direction)) : Json(nullptr)}};
}

Json json_of(const Eigen::Matrix2d& covariance_kg_m) {
  Eigen::Matrix2d c = covariance_kg_m / (kg_m_per_g_mm * kg_m_per_g_mm);
  return {{c(0, 0), c(0, 1)}, {c(1, 0), c(1, 1)}};
}

Json planes_of(const Solution& solution) {
  const bool is_known = solution.influence.uncertainty_known;
  Json planes = Json::array();
  for (const PlaneSolution& plane : solution.planes) {
    planes.push_back({{"name", plane.name},
                      {"limit_gmm", plane.limit_kg_m ? Json(in_g_mm(*plane.limit_kg_m)) : Json(nullptr)},
                      {"residual_gmm", in_g_mm(std::abs(plane.residual_kg_m))},
                      {"residual_angle_deg", direction_deg(plane.residual_kg_m)},
                      {"u_residual_gmm", known(is_known, in_g_mm(plane.u_residual_kg_m))},
                      {"u_residual_vector", is_known ? json_of(plane.residual_covariance) : Json(nullptr)},
                      {"correction", json_of(plane.correction)},
                      {"predicted_residual_gmm", in_g_mm(plane.predicted_residual_kg_m)}});
  }
  return planes;
}

Json held_of(const Solution& solution) {
  Json held = Json::array();
  for (const Held& place : solution.judgement.held) {
    held.push_back({{"place", place.place},
                    {"residual_gmm", in_g_mm(place.residual_kg_m)},
                    {"u_residual_gmm", known(solution.influence.uncertainty_known, in_g_mm(place.u_residual_kg_m))},
                    {"limit_gmm", in_g_mm(place.limit_kg_m)},
                    {"verdict", verdict_name(place.verdict)}});
  }
  return held;
}

Json coefficients_of(const Solution& solution, const SpinSet& set) {
  Json coefficients = Json::array();
  std::size_t planes = set.shaft.planes.size();
  for (std::size_t i = 0; i < solution.influence.coefficients.size(); ++i) {
    const CoefficientEstimate& estimate = solution.influence.coefficients[i];
    Motion motion = solution.motions[i / planes];
    double scale = kg_m_per_g_mm / si_per_display_unit(motion);
    double magnitude = std::abs(estimate.value);
    coefficients.push_back({{"sensor", set.rig.sensors[i / planes].name},
                            {"plane", set.shaft.planes[i % planes].name},
                            {"magnitude", magnitude * scale},
                            {"unit", fmt::format("({})/(g·mm)", display_unit(motion))},
                            {"phase_lag_deg", direction_deg(estimate.value)},
                            {"u_relative", known(solution.influence.uncertainty_known,
                                                 u_of_magnitude(estimate.value, estimate.covariance) / magnitude)}});
  }
  return coefficients;
}

Json json_of(const Solution& solution, const SpinSet& set) {
  return {{"shaft", set.shaft.id},
          {"rig", set.rig.name},
          {"speed_rpm", solution.speed_rad_s ? Json(rpm(*solution.speed_rad_s)) : Json(nullptr)},
          {"verdict", verdict_name(solution.judgement.verdict)},
          {"planes", planes_of(solution)},
          {"held", held_of(solution)},
          {"coefficients", coefficients_of(solution, set)},
          {"condition_number", solution.influence.condition_number},
          {"warnings", to_json(solution.warnings)}};
}

/// "38.4 ± 1.4 g·mm", without the ± where no uncertainty is known.
std::string with_uncertainty(const Solution& solution, double value_kg_m, double u_kg_m) {
  double expanded = solution.influence.uncertainty_known ? coverage_factor * in_g_mm(u_kg_m) : 0.0;
  return measured(in_g_mm(value_kg_m), expanded) + " g·mm";
}

std::string weight_line(const PlaneSolution& plane, const Rig& rig) {
  const FitInstruction& fit = plane.correction;
  std::string line = fmt::format("  weld  {:.1f} g  at  {}   seen from end {}, the mark at 12:00, radius {:.1f} mm\n",
                                 fit.mass_kg * 1e3, fit.clock.text(), rig.viewing_end, fit.radius_m * 1e3);
  std::string tape = fit.arc ? fmt::format("by tape {:.0f} mm {} from the mark, ", fit.arc->length_m * 1e3,
                                           arc_direction_name(fit.arc->direction))
                             : "";
  return line + fmt::format("        {}shaft angle {:.1f} deg\n", tape, degrees(fit.angle_rad));
}

std::string text_of(const PlaneSolution& plane, const Solution& solution, const Rig& rig, bool fit) {
  std::string text = fmt::format("PLANE {}\n", plane.name);
  if (fit) text += weight_line(plane, rig);
  text += "  now   " + with_uncertainty(solution, std::abs(plane.residual_kg_m), plane.u_residual_kg_m);
  if (plane.limit_kg_m) text += fmt::format("   limit {:.0f} g·mm", in_g_mm(*plane.limit_kg_m));
  if (fit) text += fmt::format("   expected after fitting {:.0f} g·mm", in_g_mm(plane.predicted_residual_kg_m));
  return text + "\n\n";
}

std::string text_of(const Judgement& judgement, const Solution& solution) {
  std::string text;
  for (const Held& held : judgement.held) {
    if (!held.place.starts_with("support")) continue;
    text += fmt::format("At {:<10} {}   limit {:.0f} g·mm\n", held.place,
                        with_uncertainty(solution, held.residual_kg_m, held.u_residual_kg_m), in_g_mm(held.limit_kg_m));
  }
  std::string_view grade = solution.limits.grade;
  text += fmt::format("VERDICT  {}{}\n", verdict_name(judgement.verdict),
                      grade.empty() ? "" : fmt::format("  ({})", grade));
  return text;
}

std::string next_step(Verdict verdict) {
  if (verdict == Verdict::within) return "NEXT  Nothing to fit: write the residual into the shaft's record.\n";
  if (verdict == Verdict::unsure) {
    return "NEXT  Spin longer or quieter to be sure, or fit what is shown, spin again and add that spin to the "
           "file.\n\n" +
           std::string(cautions);
  }
  return "NEXT  Fit what is shown, spin again, and add that spin with all its weights to the file.\n\n" +
         std::string(cautions);
}

/// The correction goes on top of what the last spin carried: a trial weight taken off meanwhile would make it wrong.
std::string carried_text(const SpinSet& set) {
  std::string pieces;
  for (const FittedWeight& piece : set.spins.back().fitted) {
    pieces += fmt::format("{}{:.1f} g at {:.0f} deg on {}", pieces.empty() ? "" : ", ", piece.mass_kg * 1e3,
                          degrees(piece.angle_rad), set.shaft.planes[static_cast<std::size_t>(piece.plane)].name);
  }
  if (pieces.empty()) return "On the shaft as it was found:\n\n";
  return fmt::format("On top of what the last spin carried ({}):\n\n", pieces);
}

std::string text_of(const Solution& solution, const SpinSet& set) {
  std::string speed = solution.speed_rad_s ? fmt::format(", {:.0f} rpm", rpm(*solution.speed_rad_s)) : "";
  std::string text = fmt::format("SHAFT {}   {}{}   {} spins\n\n", set.shaft.id, set.rig.name, speed, set.spins.size());
  const Verdict verdict = solution.judgement.verdict;
  const bool fit = verdict != Verdict::within;
  if (fit) text += carried_text(set);
  for (const PlaneSolution& plane : solution.planes) text += text_of(plane, solution, set.rig, fit);
  return text + text_of(solution.judgement, solution) + next_step(verdict);
}

int run_solve(const Asked& asked) {
  const SpinSet set = read_spins(asked.spins);
  SolveOptions options;
  options.speed_tolerance = asked.speed_tolerance_percent / 100.0;
  options.tracking.fit_disturbances = !asked.plain;
  const Solution solution = solve(set, options);
  if (!asked.json) print_warnings(solution.warnings);
  if (asked.picture)
    write_picture(solution_picture(set.rig, set.shaft, solution, set.spins.back().fitted), asked.picture);
  asked.json ? print_json(json_of(solution, set)) : print(text_of(solution, set));
  return solution.judgement.verdict == Verdict::within ? 0 : 1;
}

}  // namespace

Json solve_document(const std::string& file) {
  const SpinSet set = read_spins(file);
  Json document = {{"file", file}};
  document.update(json_of(solve(set), set));
  return document;
}

void add_solve(CLI::App& program, int& exit_code) {
  auto asked = std::make_shared<Asked>();
  CLI::App* command =
      program.add_subcommand("solve", "From a set of spins to a correction for each plane and a verdict");
  command->add_option("spins", asked->spins, "The spin file: rig, shaft, and every spin with what was fitted")
      ->required();
  command
      ->add_option("--speed-tolerance", asked->speed_tolerance_percent,
                   "Largest spread of the spins' speeds, 0 to 10 percent; 1 if not given")
      ->check(CLI::Range(0.0, 10.0))
      ->type_name("PERCENT");
  command->add_flag("--plain", asked->plain, "Plain least squares: fit no neighbours along, discount no knocks");
  command->add_flag("--json", asked->json, "One JSON document for programs");
  add_picture_options(*command, asked->picture, "clock faces and unbalance vectors");
  command->footer(
      "Examples:\n  counterspot solve spins.toml\n  counterspot solve spins.toml --picture fit.png\nExit code 0: "
      "within limit; 1: not, or it cannot be said.");
  command->callback([asked, &exit_code] { exit_code = run_solve(*asked); });
}

}  // namespace counterspot::commands
