#include <algorithm>
#include <cmath>

#include "counterspot/shaft/beam.hpp"
#include "counterspot/solve/plan.hpp"
#include "counterspot/tolerance/tolerance.hpp"

namespace counterspot {

namespace {

std::optional<double> mass_of(const Shaft& shaft) {
  if (shaft.mass_kg) return shaft.mass_kg;
  if (!shaft.sections.empty() || (shaft.tube && shaft.supports)) return mass_of(beam_of(shaft));
  return std::nullopt;
}

/// Of two pieces each weighs as its length and rests on its ends alike, as with the limits; else by levers.
double share_of_support(const Supports& supports, Support support) {
  if (!supports.c_m) {
    return lever_to_support(supports, support, supports.center_of_mass_m.value_or(0.5 * (supports.a_m + supports.b_m)));
  }
  const double first = (*supports.c_m - supports.a_m) / (supports.b_m - supports.a_m);
  return support == Support::c ? 0.5 : 0.5 * (support == Support::a ? first : 1.0 - first);
}

/// The mass that rests on the support which feels the plane most.
std::optional<double> load_at(const Shaft& shaft, double position_m) {
  const auto mass_kg = mass_of(shaft);
  if (!shaft.supports || !mass_kg) return std::nullopt;
  const std::vector<Support> supports = supports_of(*shaft.supports);
  const auto felt = [&](Support support) { return std::abs(lever_to_support(*shaft.supports, support, position_m)); };
  const Support nearest =
      *std::max_element(supports.begin(), supports.end(), [&](Support a, Support b) { return felt(a) < felt(b); });
  const double load_kg = *mass_kg * share_of_support(*shaft.supports, nearest);
  return load_kg > 0.0 ? std::optional(load_kg) : std::nullopt;
}

std::optional<double> limit_at(const Shaft& shaft, const std::string& plane) {
  if (shaft.grade.empty() && shaft.limits_kg_m.empty()) return std::nullopt;
  return limit_of(limits_of(shaft), plane);
}

std::size_t sensors_of(const TrialBasis& basis) {
  return std::max(basis.as_found.size(), basis.present.size());
}

std::vector<Phasor> coefficients_at(const TrialBasis& basis, std::size_t plane, std::size_t planes) {
  std::vector<Phasor> column;
  for (std::size_t s = 0; s < sensors_of(basis) && s * planes + plane < basis.coefficients.size(); ++s)
    column.push_back(basis.coefficients[s * planes + plane]);
  return column;
}

bool known(const std::vector<Phasor>& column) {
  return std::any_of(column.begin(), column.end(), [](const Phasor& each) { return std::abs(each) > 0.0; });
}

/// The sensor that feels the plane most, and what it read as found.
void choose_sensor(const std::vector<Phasor>& column, const TrialBasis& basis, TrialQuestion& question) {
  for (std::size_t s = 0; s < column.size() && s < basis.as_found.size(); ++s) {
    if (std::abs(column[s]) <= question.coefficient_magnitude.value_or(0.0)) continue;
    question.coefficient_magnitude = std::abs(column[s]);
    question.reading = std::abs(basis.as_found[s]);
  }
}

double middle_of_planes(const Shaft& shaft) {
  if (shaft.supports) return 0.5 * (shaft.supports->a_m + shaft.supports->b_m);
  double sum = 0.0;
  for (const Plane& plane : shaft.planes) sum += plane.position_m;
  return sum / static_cast<double>(shaft.planes.size());
}

/// As a plane at the other end showed itself: what one sensor read of it the other reads of this one.
std::vector<Phasor> by_other_end(const Shaft& shaft, std::size_t plane, const TrialBasis& basis) {
  const double middle = middle_of_planes(shaft);
  const double here = shaft.planes[plane].position_m - middle;
  for (std::size_t other = 0; other < shaft.planes.size() && sensors_of(basis) == 2; ++other) {
    std::vector<Phasor> column = coefficients_at(basis, other, shaft.planes.size());
    if (!known(column) || here * (shaft.planes[other].position_m - middle) >= 0.0) continue;
    std::reverse(column.begin(), column.end());
    return column;
  }
  return {};
}

double lessening_angle(const std::vector<Phasor>& column, const std::vector<Phasor>& present) {
  Phasor sum;
  for (std::size_t s = 0; s < column.size() && s < present.size(); ++s) sum -= std::conj(column[s]) * present[s];
  return wrap_positive(std::arg(sum));
}

void choose_angle(const Shaft& shaft, std::size_t plane, const TrialBasis& basis, PlannedTrial& trial) {
  if (basis.present.empty()) return;
  std::vector<Phasor> column = coefficients_at(basis, plane, shaft.planes.size());
  trial.place = TrialPlace::by_coefficients;
  if (!known(column)) {
    column = by_other_end(shaft, plane, basis);
    trial.place = TrialPlace::by_other_plane;
  }
  if (known(column))
    trial.piece.angle_rad = lessening_angle(column, basis.present);
  else
    trial.place = TrialPlace::at_mark;
}

/// What adds and holds at this speed: clamps, or where there is none, what is welded.
std::vector<Piece> pieces_for_trials(const Shaft& shaft, const TrialBasis& basis) {
  for (const bool welded : {false, true}) {
    CorrectionOptions which;
    which.temporary = !welded;
    which.permanent = welded;
    std::vector<std::string> left_out;
    auto pieces = pieces_of(usable_stock(*basis.stock, shaft, basis.speed_rad_s, which, left_out));
    std::erase_if(pieces, [](const Piece& piece) { return piece.acting_kg <= 0.0; });
    if (!pieces.empty()) return pieces;
  }
  return {};
}

template <typename List, typename Distance>
auto nearest_of(const List& list, Distance distance) {
  return std::min_element(list.begin(), list.end(),
                          [&](const auto& a, const auto& b) { return distance(a) < distance(b); });
}

/// The nearest to what is wanted that the stock gives and its rules let be; false: nothing.
bool choose_from_stock(const Shaft& shaft, const TrialBasis& basis, const TrialQuestion& question,
                       PlannedTrial& trial) {
  const auto plane = static_cast<std::size_t>(trial.piece.plane);
  const PlaneSites site = sites_of(shaft, *basis.stock, basis.on_shaft)[plane];
  std::vector<Piece> pieces = pieces_for_trials(shaft, basis);
  std::erase_if(pieces, [&](const Piece& piece) {
    return piece.weighed_kg > site.most_mass_kg || piece.acting_kg > site.room_kg;
  });
  if (pieces.empty() || site.positions_rad.empty() || site.most_pieces < 1) return false;
  const double wanted_kg_m = std::abs(trial.piece.unbalance_kg_m());
  const Piece piece = *nearest_of(pieces, [&](const Piece& each) {
    return std::abs(each.acting_kg * (site.radius_m + each.radius_offset_m) - wanted_kg_m);
  });
  const double wanted_rad = trial.piece.angle_rad;
  TrialQuestion there = question;
  there.radius_m = site.radius_m + piece.radius_offset_m;
  trial.piece = {trial.piece.plane, piece.acting_kg, there.radius_m,
                 *nearest_of(site.positions_rad, [&](double at) { return std::abs(wrap_signed(at - wanted_rad)); })};
  trial.weight = trial_of(there, piece.acting_kg, trial.weight.rule);
  trial.kind = basis.stock->kinds[static_cast<std::size_t>(piece.kind)].name;
  return true;
}

}  // namespace

std::string_view trial_place_words(TrialPlace place) {
  switch (place) {
    case TrialPlace::at_mark: return "at the mark, since nothing tells yet which side is the light one";
    case TrialPlace::by_coefficients: return "there it should lessen the vibration";
    case TrialPlace::by_other_plane:
      return "there it should lessen the vibration, if both ends of the rig answer alike";
  }
  return "";
}

std::variant<PlannedTrial, NoTrial> plan_trial(const Shaft& shaft, std::size_t plane, const TrialBasis& basis) {
  const Plane& at = shaft.planes[plane];
  const auto index = static_cast<int>(plane);
  TrialQuestion question;
  question.plane = at.name;
  question.radius_m = at.radius_m;
  question.speed_rad_s = basis.speed_rad_s;
  question.limit_kg_m = limit_at(shaft, at.name);
  question.support_load_kg = load_at(shaft, at.position_m);
  question.clamp_holds_N = basis.clamp_holds_N;
  choose_sensor(coefficients_at(basis, plane, shaft.planes.size()), basis, question);
  if (at.at_most_kg) question.room_kg = room_kg(at, index, basis.on_shaft);
  if (question.room_kg == 0.0) return NoTrial::plane_full;
  if (!question.limit_kg_m && !question.support_load_kg && !question.coefficient_magnitude)
    return NoTrial::nothing_known;
  PlannedTrial trial{{index, 0.0, at.radius_m, 0.0}, choose_trial(question)};
  trial.piece.mass_kg = trial.weight.mass_kg;
  choose_angle(shaft, plane, basis, trial);
  if (basis.stock == nullptr || choose_from_stock(shaft, basis, question, trial)) return trial;
  const auto is_on = [&](const FittedWeight& piece) { return piece.plane == index && piece.mass_kg > 0.0; };
  return std::any_of(basis.on_shaft.begin(), basis.on_shaft.end(), is_on) ? NoTrial::plane_full
                                                                          : NoTrial::nothing_in_stock;
}

}  // namespace counterspot
