#include <algorithm>
#include <cmath>

#include "counterspot/rig_model/rig_model.hpp"
#include "counterspot/shaft/beam.hpp"
#include "shaft/mode_shape.hpp"

namespace counterspot {

namespace {

using Eigen::Matrix4d;
using Eigen::Vector4d;

/// The shaft on its two supports, which do not give: what gives is the rig's.
struct HeldShaft {
  Beam beam;
  BeamSummary bending;
  double a_m = 0.0;
  double span_m = 0.0;  ///< negative if B comes before A

  double fraction(double position_m) const { return (position_m - a_m) / span_m; }
  Vector4d shapes(double position_m) const {
    const double to_b = fraction(position_m);
    return {1.0 - to_b, to_b, shape_at(bending, bending.modes[0], position_m),
            shape_at(bending, bending.modes[1], position_m)};
  }
};

/// A brief file shares what the shaft weighs beyond its tube in equal parts; here the stated centre of mass says how.
/// @return false if masses at the tube's ends cannot put it there.
bool share_by_center(const Shaft& shaft, Beam& beam) {
  if (!shaft.supports->center_of_mass_m || beam.masses.size() != 2) return true;
  BeamMass& left = beam.masses.front();
  BeamMass& right = beam.masses.back();
  const double both_kg = left.mass_kg + right.mass_kg;
  const double present_m = [&] {
    double moment = 0.0;
    for (const BeamSection& section : beam.sections)
      moment +=
          section.mass_per_length_kg_m() * (section.end_m - section.begin_m) * 0.5 * (section.begin_m + section.end_m);
    return moment;
  }();
  const double wanted_kg_m = mass_of(beam) * *shaft.supports->center_of_mass_m - present_m;
  right.mass_kg = (wanted_kg_m - both_kg * left.position_m) / (right.position_m - left.position_m);
  left.mass_kg = both_kg - right.mass_kg;
  return left.mass_kg >= 0.0 && right.mass_kg >= 0.0;
}

/// ∫ s sᵀ dm between the nodes by Gauss's two points, and the masses.
Matrix4d mass_of(const HeldShaft& held) {
  Matrix4d mass = Matrix4d::Zero();
  const auto& nodes = held.bending.nodes_m;
  const double point = 0.5 / std::sqrt(3.0);
  for (std::size_t i = 1; i < nodes.size(); ++i) {
    const double length = nodes[i] - nodes[i - 1];
    const double middle = 0.5 * (nodes[i] + nodes[i - 1]);
    const auto section = std::find_if(held.beam.sections.begin(), held.beam.sections.end(),
                                      [&](const BeamSection& each) { return middle < each.end_m; });
    for (const double at : {middle - point * length, middle + point * length}) {
      const Vector4d shapes = held.shapes(at);
      mass += 0.5 * length * section->mass_per_length_kg_m() * shapes * shapes.transpose();
    }
  }
  for (const BeamMass& each : held.beam.masses) {
    const Vector4d shapes = held.shapes(each.position_m);
    mass += each.mass_kg * shapes * shapes.transpose();
    const double per_tilt = 1.0 / held.span_m;  // slope of the straight lines
    const Vector4d slopes(-per_tilt, per_tilt, 0.0, 0.0);
    mass += each.diametral_inertia_kg_m2 * slopes * slopes.transpose();
  }
  return mass;
}

std::optional<HeldShaft> held(const Shaft& shaft) {
  if (!shaft.mass_kg || !shaft.supports || shaft.supports->c_m || (!shaft.tube && shaft.sections.empty()))
    return std::nullopt;
  HeldShaft result{beam_of(shaft), {}, shaft.supports->a_m, shaft.supports->b_m - shaft.supports->a_m};
  const bool brief = shaft.sections.empty() && shaft.masses.empty();
  if (brief && !share_by_center(shaft, result.beam)) return std::nullopt;
  result.beam.supports = {{shaft.supports->a_m, std::nullopt}, {shaft.supports->b_m, std::nullopt}};
  BeamOptions options;
  options.elements = 24;  // the bending is a tenth of the whole: half a percent of it is enough
  options.modes = 2;
  options.whirl = Whirl::at_rest;
  options.with_discretisation = false;
  result.bending = critical_speeds(result.beam, options);
  if (result.bending.modes.size() < 2) return std::nullopt;
  return result;
}

}  // namespace

std::optional<ShaftDynamics> dynamics_of(const Shaft& shaft) {
  const auto body = held(shaft);
  if (!body) return std::nullopt;
  ShaftDynamics dynamics;
  dynamics.mass_kg = mass_of(*body);
  for (Eigen::Index n = 0; n < 2; ++n) {
    const double rate = body->bending.modes[static_cast<std::size_t>(n)].speed_rad_s;
    dynamics.stiffness_N_m(2 + n) = rate * rate * dynamics.mass_kg(2 + n, 2 + n);
  }
  dynamics.total_kg = body->bending.mass_kg;
  dynamics.span_m = std::abs(body->span_m);
  // The beam's own summary: also of stated masses.
  dynamics.center_fraction = body->fraction(body->bending.center_of_mass_m);
  dynamics.center_stated =
      shaft.supports->center_of_mass_m.has_value() || !shaft.masses.empty() || !shaft.sections.empty();
  const Vector4d at_a = body->shapes(body->beam.sections.front().begin_m);
  const Vector4d at_b = body->shapes(body->beam.sections.back().end_m);
  // What weighs more or sits elsewhere is taken to do so at the ends, where yokes and flanges are.
  const Matrix4d end_a = at_a * at_a.transpose();
  const Matrix4d end_b = at_b * at_b.transpose();
  const double apart =
      body->fraction(body->beam.sections.back().end_m) - body->fraction(body->beam.sections.front().begin_m);
  dynamics.heavier_kg = 0.5 * dynamics.total_kg * (end_a + end_b);
  dynamics.shifted_kg = dynamics.total_kg / apart * (end_b - end_a);
  dynamics.plane_shapes.resize(4, static_cast<Eigen::Index>(shaft.planes.size()));
  for (std::size_t p = 0; p < shaft.planes.size(); ++p) {
    dynamics.plane_shapes.col(static_cast<Eigen::Index>(p)) = body->shapes(shaft.planes[p].position_m);
    dynamics.plane_fractions.push_back(body->fraction(shaft.planes[p].position_m));
  }
  return dynamics;
}

}  // namespace counterspot
