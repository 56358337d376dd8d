#include <algorithm>

#include "counterspot/solve/solution.hpp"
#include "influence/design_matrix.hpp"

namespace counterspot {

bool weights_suffice(const std::vector<SpinReading>& spins, std::size_t planes) {
  if (spins.size() <= planes) return false;
  return condition_of_trials(design_of(spins, static_cast<int>(planes), {})) < InfluenceOptions().refuse_condition;
}

std::vector<FittedWeight> pieces_without(std::vector<FittedWeight> pieces, const std::vector<FittedWeight>& taken) {
  for (const FittedWeight& piece : taken) {
    const auto at = std::find(pieces.begin(), pieces.end(), piece);
    if (at != pieces.end()) pieces.erase(at);
  }
  return pieces;
}

std::vector<FittedWeight> trial_pieces(const std::vector<SpinReading>& spins, std::size_t planes) {
  return trial_pieces(spins, [&](const std::vector<SpinReading>& first) { return weights_suffice(first, planes); });
}

std::vector<FittedWeight> trial_pieces(const std::vector<SpinReading>& spins,
                                       const std::function<bool(const std::vector<SpinReading>&)>& suffice) {
  std::vector<FittedWeight> trials;
  std::vector<SpinReading> so_far;
  for (const SpinReading& spin : spins) {
    so_far.push_back(spin);
    // As many alike pieces as one spin carried at most.
    for (const FittedWeight& piece : spin.fitted)
      if (times_in(piece, trials) < times_in(piece, spin.fitted)) trials.push_back(piece);
    if (suffice(so_far)) break;
  }
  std::vector<FittedWeight> on;
  for (const FittedWeight& piece : spins.back().fitted)
    if (times_in(piece, on) < times_in(piece, trials)) on.push_back(piece);
  return on;
}

}  // namespace counterspot
