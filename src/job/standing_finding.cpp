#include "counterspot/job/standing_finding.hpp"

namespace counterspot {

const Finding* standing_finding(const Job& job, const JobState& state) {
  for (const Event& event : job.events) {
    if (state.closing != event.number) continue;
    const auto& closed = std::get<Closed>(event.what);
    return closed.finding ? &*closed.finding : nullptr;
  }
  if (!state.final_spin()) return nullptr;
  const auto& finding = state.spins.back().spun.finding;
  return finding ? &*finding : nullptr;
}

}  // namespace counterspot
