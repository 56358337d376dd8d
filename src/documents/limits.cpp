#include "documents/documents.hpp"

namespace counterspot {

Json document_of(const Limits& limits) {
  Json planes = Json::array();
  for (const PlaneLimit& plane : limits.planes)
    planes.push_back({{"name", plane.name}, {"limit_gmm", in_g_mm(plane.limit_kg_m)}});
  Json supports = Json::array();
  for (const PlaneLimit& support : limits.supports)
    supports.push_back({{"name", support.name}, {"limit_gmm", in_g_mm(support.limit_kg_m)}});
  return {{"grade", limits.grade.empty() ? Json(nullptr) : Json(limits.grade)},
          {"total_gmm", limits.total_kg_m ? Json(in_g_mm(*limits.total_kg_m)) : Json(nullptr)},
          {"planes", planes},
          {"supports", supports},
          {"specific_um", limits.specific_m ? Json(*limits.specific_m * 1e6) : Json(nullptr)},
          {"warnings", json_of(limits.warnings)}};
}

}  // namespace counterspot
