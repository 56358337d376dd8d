#include "report/correction.hpp"
#include "report/documents.hpp"

namespace counterspot {

Json document_of(const AmplitudeSolution& solution, const AmplitudeSet& set) {
  Json answers = Json::array();
  for (const AmplitudeAnswer& answer : solution.answers) {
    Json planes = Json::array();
    for (std::size_t p = 0; p < answer.corrections.size(); ++p) {
      planes.push_back({{"name", set.shaft.planes[p].name},
                        {"residual_gmm", in_g_mm(std::abs(answer.residual_kg_m[p]))},
                        {"residual_angle_deg", direction_deg(answer.residual_kg_m[p])},
                        {"correction", correction_json(answer.corrections[p])},
                        {"correction_bare", correction_json(answer.corrections_bare[p])}});
    }
    answers.push_back({{"planes", planes}, {"verdict", verdict_name(answer.judgement.verdict)}});
  }
  Json speeds = Json::array();
  for (const auto& speed : solution.speeds_rad_s) speeds.push_back(rpm_or_null(speed));
  return {{"shaft", set.shaft.id},
          {"rig", set.rig.name},
          {"verdict", verdict_name(solution.verdict)},
          {"held_back", json_of(reasons_of(solution.held_back))},
          {"answers", answers},
          {"speeds_rpm", speeds},
          {"warnings", json_of(solution.warnings)}};
}

}  // namespace counterspot
