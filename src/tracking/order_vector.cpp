#include <fmt/format.h>

#include <algorithm>
#include <cassert>
#include <cmath>

#include "counterspot/tracking/tracking.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {
namespace {

double variance_along(const Eigen::Matrix2d& covariance, const Phasor& direction) {
  const Eigen::Vector2d unit(direction.real(), direction.imag());
  return std::max(0.0, unit.dot(covariance * unit));
}

Phasor unit_of(const Phasor& z) {
  return std::abs(z) > 0.0 ? z / std::abs(z) : Phasor(1.0, 0.0);
}

int derivatives(Motion motion) {
  switch (taken_for(motion)) {
    case Motion::displacement: return 0;
    case Motion::velocity: return 1;
    default: return 2;
  }
}

}  // namespace

void refuse_without_scale(Motion from, Motion to) {
  if (from == to || (from != Motion::unscaled && to != Motion::unscaled)) return;
  throw Error(Trouble::request, "no_sensitivity",
              fmt::format("a sensor whose sensitivity is unknown shows volts, and no {}", motion_name(to)),
              "leave out --as, or write the sensor's sensitivity into the rig file; a hand-held shaker shows it: "
              "'rig new --only sensitivity'");
}

double growth_exponent(Motion motion) {
  return 1.0 + derivatives(motion);
}

double largest_curvature(const Phasor& value, const Phasor& slope_per_rad_s) {
  const double amplitude = std::abs(value);
  return amplitude > 0.0 ? 2.0 * std::norm(slope_per_rad_s) / amplitude : 0.0;
}

double OrderVector::u_amplitude() const {
  return std::sqrt(variance_along(covariance, unit_of(value)));
}

double OrderVector::u_phase_lag_deg() const {
  const double nothing_known = 180.0 / std::sqrt(3.0);  // uniform over the circle
  const double across = std::sqrt(variance_along(covariance, Phasor(0.0, 1.0) * unit_of(value)));
  const double amplitude = std::abs(value);
  return amplitude > 0.0 ? std::min(degrees(across / amplitude), nothing_known) : nothing_known;
}

OrderVector view_as(const OrderVector& vector, Motion from, Motion to, double speed_rad_s) {
  refuse_without_scale(from, to);
  assert(from == to || speed_rad_s > 0.0);
  const int steps = derivatives(to) - derivatives(from);
  const Phasor derivative(0.0, -vector.order * speed_rad_s);  // kΩ e^{−jπ/2}: phase lag
  Phasor factor(1.0, 0.0);
  for (int i = 0; i < std::abs(steps); ++i) factor = steps > 0 ? factor * derivative : factor / derivative;
  const Eigen::Matrix2d turn{{factor.real(), -factor.imag()}, {factor.imag(), factor.real()}};
  OrderVector view{vector.order, factor * vector.value, turn * vector.covariance * turn.transpose(), vector.budget, {}};
  for (BudgetItem& item : view.budget) item.covariance = turn * item.covariance * turn.transpose();
  // d(fZ)/dΩ = f·dZ/dΩ + (steps·f/Ω)·Z
  view.slope = {factor * (vector.slope.per_rad_s + static_cast<double>(steps) / speed_rad_s * vector.value),
                std::abs(factor) * vector.slope.u_per_rad_s, vector.slope.measured};
  return view;
}

}  // namespace counterspot
