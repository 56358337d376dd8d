#include <algorithm>

#include "counterspot/drawing/drawing_job.hpp"

namespace counterspot {

namespace {

/// Where a plane lies between the ends of the shaft: supports if they are known, else the outer planes.
double along(const Shaft& shaft, std::size_t plane) {
  if (shaft.supports) {
    return (shaft.planes[plane].position_m - shaft.supports->a_m) / (shaft.supports->b_m - shaft.supports->a_m);
  }
  const auto [first, last] =
      std::minmax_element(shaft.planes.begin(), shaft.planes.end(),
                          [](const Plane& a, const Plane& b) { return a.position_m < b.position_m; });
  const double span = last->position_m - first->position_m;
  return span > 0.0 ? 0.05 + 0.9 * (shaft.planes[plane].position_m - first->position_m) / span : 0.5;
}

}  // namespace

ClockFace face_of(const Rig& rig, const Shaft& shaft, std::size_t plane, const std::vector<FittedWeight>& on_shaft,
                  const std::string& end) {
  ClockFace face;
  face.plane = shaft.planes[plane].name;
  face.end = end;
  face.rotation = rotation_seen_from(rig, end);
  if (shaft.tube) face.outside_diameter_m = shaft.tube->outside_diameter_m;
  face.along = along(shaft, plane);
  for (const FittedWeight& weight : on_shaft) {
    if (static_cast<std::size_t>(weight.plane) != plane) continue;
    face.pieces.push_back({PieceState::on_shaft, std::abs(weight.mass_kg), weight.angle_rad, weight.mass_kg < 0.0});
  }
  return face;
}

ClockFace face_to_fit(const Rig& rig, const Shaft& shaft, std::size_t plane, const std::vector<FittedWeight>& on_shaft,
                      const std::vector<FittedWeight>& to_fit, UnitSystem units) {
  ClockFace face = face_of(rig, shaft, plane, on_shaft, rig.viewing_end);
  face.units = units;
  for (const FittedWeight& weight : to_fit) {
    if (static_cast<std::size_t>(weight.plane) != plane) continue;
    const bool remove = weight.mass_kg < 0.0;
    face.pieces.push_back(
        {remove ? PieceState::to_remove : PieceState::to_fit, std::abs(weight.mass_kg), weight.angle_rad, remove});
  }
  return face;
}

std::vector<VectorDiagram> diagrams_of(const Rig& rig, const Shaft& shaft, const Limits& limits,
                                       const std::vector<SpinReading>& spins,
                                       const std::vector<CoefficientEstimate>& coefficients) {
  auto vectors = unbalance_of_spins(spins, coefficients);
  std::vector<VectorDiagram> diagrams;
  for (std::size_t p = 0; p < vectors.size(); ++p) {
    diagrams.push_back({shaft.planes[p].name, rig.viewing_end, rig.rotation, limit_of(limits, shaft.planes[p].name),
                        std::move(vectors[p])});
  }
  return diagrams;
}

Picture solution_picture(const Rig& rig, const Shaft& shaft, const Solution& solution,
                         const std::vector<FittedWeight>& on_shaft, const Words& words) {
  std::vector<Picture> pictures;
  for (std::size_t p = 0; p < shaft.planes.size(); ++p) {
    const bool to_fit = solution.judgement.verdict != Verdict::within;
    // What is to be fitted is shown with the trial weights off, as they are when it is fitted.
    ClockFace face =
        face_of(rig, shaft, p, to_fit ? pieces_without(on_shaft, solution.trial_weights) : on_shaft, rig.viewing_end);
    const FitInstruction& fit = solution.planes[p].correction_bare;
    if (to_fit && fit.mass_kg > 0.0) face.pieces.push_back({PieceState::to_fit, fit.mass_kg, fit.angle_rad});
    pictures.push_back(clock_picture(face, words));
  }
  auto diagrams = diagrams_of(rig, shaft, solution.limits, solution.readings, solution.influence.coefficients);
  for (std::size_t p = 0; p < diagrams.size(); ++p) {
    SpinVector& last = diagrams[p].spins.back();
    last.unbalance_kg_m = solution.planes[p].residual_kg_m;
    last.covariance = solution.planes[p].residual_covariance;  // with that of the coefficients
    pictures.push_back(vector_picture(diagrams[p], words));
  }
  Picture all = side_by_side(pictures, shaft.planes.size());
  all.title = shaft.id;
  return all;
}

Picture placing_picture(const Rig& rig, const Shaft& shaft, const Stock& stock, const std::vector<Placed>& placed,
                        const std::vector<FittedWeight>& on_shaft, const std::string& end, UnitSystem units,
                        const Words& words) {
  std::vector<Picture> pictures;
  for (std::size_t p = 0; p < shaft.planes.size(); ++p) {
    ClockFace face = face_of(rig, shaft, p, on_shaft, end);
    face.units = units;
    face.forbidden = stock.rules_of(shaft.planes[p].name).forbidden;
    for (const Placed& piece : placed) {
      if (static_cast<std::size_t>(piece.plane) != p) continue;
      const bool remove = piece.piece.acting_kg < 0.0;
      face.pieces.push_back(
          {remove ? PieceState::to_remove : PieceState::to_fit, piece.piece.weighed_kg, piece.angle_rad, remove});
    }
    pictures.push_back(clock_picture(face, words));
  }
  Picture all = side_by_side(pictures, 2);
  all.title = shaft.id;
  return all;
}

}  // namespace counterspot
