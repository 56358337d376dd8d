#include "counterspot/guide/stock_correction.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

/// What the last spin would have left without these pieces: unbalance adds up, and so do its parts in the modes.
Solution without_pieces(Solution solution, const std::vector<FittedWeight>& pieces) {
  for (const FittedWeight& piece : pieces) {
    const auto plane = static_cast<std::size_t>(piece.plane);
    solution.planes.at(plane).residual_kg_m -= piece.unbalance_kg_m();
    for (ModalPart& mode : solution.modes) mode.unbalance_kg_m -= mode.shape.at(plane) * piece.unbalance_kg_m();
  }
  return solution;
}

FittedWeight weight_of(const Placed& placed) {
  return {placed.plane, placed.piece.acting_kg, placed.radius_m, placed.angle_rad};
}

StockWay way_of(std::string name, const FittingSummary& fitting) {
  StockWay way{std::move(name), {}, {}, &fitting};
  for (const Placed& placed : fitting.placed) way.fit.push_back(weight_of(placed));
  return way;
}

StockWay way_of(std::string name, const Plan& plan, const std::vector<FittedWeight>& on_shaft) {
  StockWay way{std::move(name), {}, {}, nullptr, &plan};
  for (const Slide& slide : plan.slides) {
    way.off.push_back(static_cast<int>(slide.fitted) + 1);
    way.fit.push_back(on_shaft.at(slide.fitted));
    way.fit.back().angle_rad = slide.to_rad;
  }
  for (const std::size_t piece : plan.taken_off) way.off.push_back(static_cast<int>(piece) + 1);
  for (const Placed& placed : plan.added) way.fit.push_back(weight_of(placed));
  return way;
}

}  // namespace

StockCorrection stock_correction(const KnownJob& known, const Stock& stock, Base base,
                                 const CorrectionOptions& options) {
  const NextStep step = known.next();
  const bool asked = step.kind == StepKind::fit_correction && known.analysis.solution;
  if (!asked || (base == Base::bare ? !step.instead : step.pieces.empty())) {
    throw Error(Trouble::request, "nothing_asked", "the next step of this job asks for no such correction",
                "see 'job next', or say what was fitted");
  }
  const JobState state = state_of(known.job.events);
  const Solution& spun = *known.analysis.solution;
  const Shaft shaft = known.job.shaft();
  if (base == Base::as_spun)
    return {base, state.on_shaft, plan_correction(shaft, spun, stock, state.on_shaft, options)};
  const std::vector<FittedWeight> stay = with_trials_off(state, step);
  const Solution bare = without_pieces(spun, pieces_without(state.on_shaft, stay));
  return {base, stay, plan_correction(shaft, bare, stock, stay, options)};
}

double StockWay::worst_ratio() const {
  return plan != nullptr ? plan->worst_ratio : std::max(fitting->worst_ratio, fitting->fixed_ratio);
}

std::vector<StockWay> ways_of(const StockCorrection& found) {
  const Correction& correction = found.correction;
  std::vector<StockWay> ways;
  if (correction.fewer && !correction.fewer->placed.empty()) ways.push_back(way_of("fewer", *correction.fewer));
  if (!correction.fitting.placed.empty()) ways.push_back(way_of("best", correction.fitting));
  if (found.base != Base::as_spun) return ways;  // the numbers of what comes off are those of what is on now
  for (std::size_t i = 0; i < correction.plans.size(); ++i)
    if (correction.plans[i].worst_ratio <= 1.0)
      ways.push_back(way_of(fmt::format("plan-{}", i + 1), correction.plans[i], found.on_shaft));
  return ways;
}

}  // namespace counterspot
