#include "counterspot/guide/stock_correction.hpp"

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

}  // namespace counterspot
