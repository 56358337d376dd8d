#include "counterspot/no_phase.hpp"

#include <algorithm>

#include "counterspot/error.hpp"
#include "job/instruction.hpp"

namespace counterspot {

AmplitudeSolution solve_without_phase(const AmplitudeSet& set) {
  const auto planes = static_cast<int>(set.shaft.planes.size());
  const AmplitudeSummary summary = solve_amplitudes(set.spins, planes, set.rig.setting);
  if (!summary.usable) {
    const auto cut = summary.explanation.find("; ");
    throw Error(Trouble::request, "too_few_spins", summary.explanation.substr(0, cut),
                summary.explanation.substr(cut + 2));
  }
  AmplitudeSolution solution;
  solution.limits = limits_of(set.shaft);
  for (const AmplitudeCandidate& candidate : summary.candidates) {
    AmplitudeAnswer answer;
    answer.residual_kg_m = candidate.residual_kg_m;
    for (std::size_t p = 0; p < set.shaft.planes.size(); ++p)
      answer.corrections.push_back(
          instruction_for(-candidate.residual_kg_m[p], set.shaft.planes[p], set.rig, set.shaft));
    answer.judgement = judge(set.shaft, solution.limits, candidate.residual_kg_m, candidate.covariance);
    solution.answers.push_back(std::move(answer));
  }
  solution.verdict = solution.answers.front().judgement.verdict;
  auto agrees = [&](const AmplitudeAnswer& answer) { return answer.judgement.verdict == solution.verdict; };
  if (!std::all_of(solution.answers.begin(), solution.answers.end(), agrees)) solution.verdict = Verdict::unsure;
  return solution;
}

}  // namespace counterspot
