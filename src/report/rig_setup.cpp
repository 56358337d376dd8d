#include "counterspot/rig_setup/setup.hpp"

#include "report/documents.hpp"

namespace counterspot {

Json document_of(const SetupStanding& standing, const SetupTold& told, const std::string& written) {
  Json document = {{"found", standing.found}};
  if (standing.next) {
    const SetupInstruction next = instruction_of(*standing.next, told);
    document["next"] = {{"step", setup_step_name(*standing.next)}, {"act", next.act}, {"caution", next.caution}};
  }
  if (standing.again) document["again"] = {{"why", standing.again->why}, {"instead", standing.again->instead}};
  if (const auto& proof = standing.proof) {
    document["proof"] = {{"held", proof->result == ProofResult::held},
                         {"against", proof->against},
                         {"found_mass_g", 1e3 * proof->found_mass_kg},
                         {"found_clock_deg", degrees(proof->found_clock_rad)},
                         {"off_fraction", proof->off},
                         {"smallest_residual_gmm",
                          {in_g_mm(proof->smallest_residual_kg_m[0]), in_g_mm(proof->smallest_residual_kg_m[1])}}};
  }
  document["written"] = written.empty() ? Json() : Json(written);
  return document;
}

}  // namespace counterspot
