#include "counterspot/solve/plan.hpp"

#include <algorithm>

#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

/// Of a shaft that bends, its modes too.
Aim aim_of(const Shaft& shaft, const Solution& solution) {
  std::vector<Phasor> residual;
  for (const PlaneSolution& plane : solution.planes) residual.push_back(plane.residual_kg_m);
  Aim aim = aim_at_unbalance(shaft, residual, solution.limits.planes, solution.limits.supports);
  for (std::size_t n = 0; n < solution.modes.size(); ++n) {
    const ModalPart& mode = solution.modes[n];
    aim.push_back({at_mode(n + 1), mode.unbalance_kg_m, {mode.shape.begin(), mode.shape.end()}, mode.limit_kg_m});
  }
  return aim;
}

FittingProblem problem_of(const Shaft& shaft, const Stock& stock, const Aim& aim,
                          const std::vector<FittedWeight>& on_shaft, double step_rad) {
  FittingProblem problem{aim, pieces_of(stock), {}, sites_of(shaft, stock, on_shaft, step_rad)};
  for (const StockKind& kind : stock.kinds) problem.counts.push_back(kind.count);
  return problem;
}

std::vector<std::string> closed_planes(const Stock& stock) {
  std::vector<std::string> names;
  for (const auto& [name, rules] : stock.rules)
    if (rules.closed) names.push_back(name);
  return names;
}

/// The choice as asked, and what is as good on the shaft with fewer pieces, which is found first: it takes little of
/// the patience.
void choose(const FittingProblem& problem, const FittingOptions& options, Correction& correction) {
  if (options.resolution < alike_on_the_shaft)
    correction.fewer = choose_pieces(problem, {alike_on_the_shaft, options.out_of_time});
  correction.fitting = choose_pieces(problem, options);
  if (correction.fewer && correction.fewer->placed.size() >= correction.fitting.placed.size()) correction.fewer.reset();
}

Stock opened(Stock stock) {
  for (auto& [name, rules] : stock.rules) rules.closed = false;
  return stock;
}

double outermost_m(const Shaft& shaft) {
  double radius = 0.0;
  for (const Plane& plane : shaft.planes) radius = std::max(radius, plane.radius_m);
  return radius;
}

}  // namespace

FitInstruction instruction_for(const Phasor& correction_kg_m, const Plane& plane, const Rig& rig, const Shaft& shaft) {
  FitInstruction fit;
  fit.mass_kg = std::abs(correction_kg_m) / plane.radius_m;
  fit.radius_m = plane.radius_m;
  fit.angle_rad = wrap_positive(std::arg(correction_kg_m));
  fit.clock = clock_position(fit.angle_rad, rig.rotation);
  if (shaft.tube) fit.arc = arc_length(fit.angle_rad, shaft.tube->outside_diameter_m);
  return fit;
}

Stock usable_stock(const Stock& stock, const Shaft& shaft, std::optional<double> speed_rad_s,
                   const CorrectionOptions& options, std::vector<std::string>& left_out) {
  Stock usable = stock;  // kinds keep their places, so that a piece's index means the same in both
  for (StockKind& kind : usable.kinds) {
    if (kind.way == Way::clamp ? !options.temporary : !options.permanent) kind.count = 0;
    if (!kind.holds_N || !speed_rad_s) continue;
    const double radius = outermost_m(shaft) + kind.radius_offset_m;
    const auto before = kind.masses_kg.size();
    std::erase_if(kind.masses_kg, [&](double mass) { return pull_N(mass, radius, *speed_rad_s) > *kind.holds_N; });
    if (kind.masses_kg.size() < before) left_out.push_back(kind.name);
  }
  return usable;
}

Correction plan_correction(const Shaft& shaft, const Solution& solution, const Stock& stock,
                           const std::vector<FittedWeight>& on_shaft, const CorrectionOptions& options) {
  Correction correction;
  correction.aim = aim_of(shaft, solution);
  const Stock usable = usable_stock(stock, shaft, solution.speed_rad_s, options, correction.left_out);
  const FittingProblem problem = problem_of(shaft, usable, correction.aim, on_shaft, options.step_rad);
  if (problem.pieces.empty())
    throw Error(Trouble::request, "nothing_to_place", "the stock has nothing that may be used here",
                "count the stock again, allow clamps or welding, or spin slower");
  choose(problem, options.fitting, correction);
  correction.closed = closed_planes(stock);
  if (!correction.closed.empty())
    correction.if_open =
        choose_pieces(problem_of(shaft, opened(usable), correction.aim, on_shaft, options.step_rad), options.fitting);
  if (!on_shaft.empty()) correction.plans = plans_from_here(shaft, usable, correction.aim, on_shaft, options.step_rad);
  if (options.gather)
    correction.gathered = gather_into_weld(shaft, stock, correction.aim, on_shaft, *options.gather, options.fitting);
  return correction;
}

}  // namespace counterspot
