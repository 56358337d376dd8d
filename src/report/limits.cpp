#include "report/documents.hpp"

namespace counterspot {

Json document_of(const Limits& limits) {
  Json planes = Json::array();
  for (const PlaneLimit& plane : limits.planes)
    planes.push_back({{"name", plane.name}, {"limit_gmm", in_g_mm(plane.limit_kg_m)}});
  Json supports = Json::array();
  for (const SupportLimit& support : limits.supports)
    supports.push_back({{"name", support_name(support.support)}, {"limit_gmm", in_g_mm(support.limit_kg_m)}});
  return {{"grade", text_or_null(limits.grade)},
          {"total_gmm", gmm_or_null(limits.total_kg_m)},
          {"planes", planes},
          {"supports", supports},
          {"specific_um", scaled_or_null(limits.specific_m, 1e6)},
          {"warnings", json_of(limits.warnings)}};
}

}  // namespace counterspot
