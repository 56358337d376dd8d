#include <algorithm>

#include "counterspot/drawing/drawing_course.hpp"
#include "counterspot/drawing/drawing_job.hpp"
#include "counterspot/drawing/picture_words.hpp"
#include "counterspot/job/standing_finding.hpp"
#include "counterspot/log/log.hpp"
#include "drawing/sketch.hpp"

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
  bring_to_one_scale(diagrams);
  return diagrams;
}

std::vector<VectorDiagram> course_of(const Rig& rig, const Shaft& shaft, const Solution& solution) {
  auto diagrams = diagrams_of(rig, shaft, solution.limits, solution.readings, solution.influence.coefficients);
  for (std::size_t p = 0; p < diagrams.size(); ++p) {
    SpinVector& last = diagrams[p].spins.back();
    last.unbalance_kg_m = solution.planes[p].residual_kg_m;
    last.covariance = solution.planes[p].residual_covariance;  // with that of the coefficients
  }
  bring_to_one_scale(diagrams);
  return diagrams;
}

namespace {

/// A picture under words that must be read before it.
Picture under_heading(const Picture& picture, const std::string& heading, const char* meaning) {
  constexpr double heading_mm = 14.0;
  Sketch sketch("", picture.width_mm, picture.height_mm + heading_mm);
  sketch.name(Role::text, {{6.0, 10.0}, heading, 6.5, Anchor::left, true, picture.width_mm - 12.0}, meaning);
  put(sketch.picture(), picture, {0.0, heading_mm});
  return std::move(sketch.picture());
}

/// "B 15.0 g at 12:00, …"
std::string pieces_said(const Rig& rig, const Shaft& shaft, const std::vector<FittedWeight>& pieces, UnitSystem units,
                        const Words& words) {
  std::string said;
  for (const FittedWeight& piece : pieces) {
    const std::string mass = with_decimal_sign(mass_text(std::abs(piece.mass_kg), units), words);
    said += (said.empty() ? "" : ", ") + shaft.planes[static_cast<std::size_t>(piece.plane)].name + " " + mass + " " +
            clock_position(piece.angle_rad, rotation_seen_from(rig, rig.viewing_end)).text();
  }
  return said;
}

}  // namespace

Picture solution_picture(const Rig& rig, const Shaft& shaft, const Solution& solution,
                         const std::vector<FittedWeight>& on_shaft, const Words& words, const BudgetTable* budget) {
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
  const auto diagrams = course_of(rig, shaft, solution);
  for (const VectorDiagram& diagram : diagrams) pictures.push_back(vector_picture(diagram, words));
  Picture all = side_by_side(pictures, shaft.planes.size());
  if (solution.judgement.verdict != Verdict::within && !solution.trial_weights.empty())
    all = under_heading(
        all,
        put_in(words.picture().trials_off, pieces_said(rig, shaft, solution.trial_weights, UnitSystem::metric, words)),
        "trial weights");
  const bool held =
      std::any_of(diagrams.begin(), diagrams.end(), [](const auto& d) { return d.limit_kg_m.has_value(); });
  std::vector<Picture> below;
  if (held) below.push_back(residuals_picture(diagrams, words));
  if (budget != nullptr) below.push_back(budget_picture(*budget, words));
  if (!below.empty()) all = side_by_side({all, side_by_side(below, shaft.planes.size())}, 1);
  all.title = shaft.id;
  return all;
}

namespace {

/// "strip 20 x 3, 38 mm"
std::string piece_name(const Stock& stock, const Piece& piece, UnitSystem units) {
  const std::string& name = stock.kinds[static_cast<std::size_t>(piece.kind)].name;
  return piece.length_m > 0.0 ? name + ", " + tape_text(piece.length_m, units) : name;
}

std::string heading_of(const PlacedChoice& choice, bool first, const Words& words) {
  const PictureWords& texts = words.picture();
  const std::size_t count = choice.placed.size();
  const std::string pieces = count == 1 ? std::string(texts.one_piece) : put_in(texts.pieces, std::to_string(count));
  const std::string worst = put_in(
      texts.worst_of_limit, number_text(100.0 * choice.worst_ratio, choice.worst_ratio < 0.0995 ? 1 : 0, words) + " %");
  return (first ? pieces : put_in(texts.or_fewer, pieces)) + ": " + worst;
}

Picture choice_picture(const std::vector<ClockFace>& bare, const Stock& stock, const PlacedChoice& choice, bool first,
                       const Words& words) {
  std::vector<Picture> faces;
  for (std::size_t p = 0; p < bare.size(); ++p) {
    ClockFace face = bare[p];
    for (const Placed& piece : choice.placed) {
      if (static_cast<std::size_t>(piece.plane) != p) continue;
      const bool remove = piece.piece.acting_kg < 0.0;
      face.pieces.push_back({remove ? PieceState::to_remove : PieceState::to_fit, piece.piece.weighed_kg,
                             piece.angle_rad, remove, 0, piece_name(stock, piece.piece, face.units)});
    }
    faces.push_back(clock_picture(face, words));
  }
  return under_heading(side_by_side(faces, 1), heading_of(choice, first, words), "choice");
}

}  // namespace

std::vector<PlacedChoice> choices_of(const Correction& correction) {
  const auto choice = [](const FittingSummary& fitting) {
    return PlacedChoice{fitting.placed, std::max(fitting.worst_ratio, fitting.fixed_ratio)};
  };
  std::vector<PlacedChoice> choices = {choice(correction.fitting)};
  if (correction.fewer) choices.push_back(choice(*correction.fewer));
  return choices;
}

Picture placing_picture(const Rig& rig, const Shaft& shaft, const Stock& stock,
                        const std::vector<PlacedChoice>& choices, const std::vector<FittedWeight>& on_shaft,
                        const std::string& end, UnitSystem units, const Words& words) {
  std::vector<ClockFace> bare;
  for (std::size_t p = 0; p < shaft.planes.size(); ++p) {
    bare.push_back(face_of(rig, shaft, p, on_shaft, end));
    bare.back().units = units;
    bare.back().forbidden = stock.rules_of(shaft.planes[p].name).forbidden;
  }
  std::vector<Picture> pictures;
  for (const PlacedChoice& choice : choices)
    pictures.push_back(choice_picture(bare, stock, choice, pictures.empty(), words));
  Picture all = side_by_side(pictures, pictures.size());
  all.title = shaft.id;
  return all;
}

PictureOf picture_of(const Job& job, UnitSystem units, const std::string& program) {
  const JobState state = state_of(job.events);
  PictureOf of;
  of.shaft = job.shaft().id;
  of.job = job.name;
  of.as_of = utc_day(job.events.empty() ? job.opened_unix_s : job.events.back().at_unix_s);
  of.rig = job.rig().name;
  if (!state.spins.empty()) of.speed_rad_s = state.spins.back().spun.speed_rad_s;
  if (const Finding* finding = standing_finding(job, state)) of.verdict = finding->verdict;
  of.units = units;
  of.program = program;
  return of;
}

PictureOf picture_of(const Rig& rig, const Shaft& shaft, const Solution& solution, UnitSystem units) {
  PictureOf of;
  of.shaft = shaft.id;
  of.rig = rig.name;
  of.speed_rad_s = solution.speed_rad_s;
  of.verdict = solution.judgement.verdict;
  of.units = units;
  return of;
}

}  // namespace counterspot
