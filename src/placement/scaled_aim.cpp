#include "placement/scaled_aim.hpp"

#include <Eigen/SVD>
#include <algorithm>
#include <cmath>

#include "algebra/pseudo_inverse.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

constexpr double worst_condition = 1e6;  // beyond it the bounds lose their digits

// A row that a closed plane moves so much more than every open one is the closed plane's own: to better it by a little,
// the open planes would have to be put out of balance by five times as much.
bool open_planes_are_for(const AimRow& row, const std::vector<PlaneSites>& planes) {
  double open = 0.0;
  double closed = 0.0;
  for (std::size_t p = 0; p < planes.size(); ++p) {
    double& most = planes[p].most_pieces > 0 ? open : closed;
    most = std::max(most, std::abs(row.effect[p]));
  }
  return open > 0.0 && open >= least_share_of_open_planes * closed;
}

void check_told_apart(const Eigen::MatrixXcd& a) {
  Eigen::MatrixXcd unit = a;
  for (Eigen::Index c = 0; c < unit.cols(); ++c)
    if (unit.col(c).norm() > 0.0) unit.col(c).normalize();
  const Eigen::JacobiSVD<Eigen::MatrixXcd> svd(unit);
  const auto& singular = svd.singularValues();
  if (a.rows() >= a.cols() && singular(singular.size() - 1) * worst_condition > singular(0)) return;
  throw Error(Trouble::request, "planes_not_told_apart", "the limits do not tell the correction planes apart",
              "state a limit for every plane where something may be fitted");
}

}  // namespace

ScaledAim scaled_aim(const Aim& aim, const std::vector<PlaneSites>& planes) {
  if (aim.empty())
    throw Error(Trouble::request, "no_limit", "there is no limit to place weights for", "state a grade or limits");
  ScaledAim scaled;
  for (std::size_t p = 0; p < planes.size(); ++p)
    if (planes[p].most_pieces > 0) scaled.planes.push_back(static_cast<int>(p));
  std::vector<const AimRow*> rows;
  for (const AimRow& row : aim) {
    scaled.is_for.push_back(open_planes_are_for(row, planes));
    if (scaled.is_for.back()) rows.push_back(&row);
  }
  const auto columns = static_cast<Eigen::Index>(scaled.planes.size());
  scaled.a.resize(static_cast<Eigen::Index>(rows.size()), columns);
  scaled.b.resize(static_cast<Eigen::Index>(rows.size()));
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const auto row = static_cast<Eigen::Index>(i);
    scaled.b(row) = rows[i]->present / rows[i]->limit;
    for (Eigen::Index c = 0; c < columns; ++c)
      scaled.a(row, c) =
          rows[i]->effect[static_cast<std::size_t>(scaled.planes[static_cast<std::size_t>(c)])] / rows[i]->limit;
  }
  if (columns > 0) check_told_apart(scaled.a);
  return scaled;
}

Bounds::Bounds(const Eigen::MatrixXcd& a, int first) : columns_(a.rightCols(a.cols() - first)) {
  inverse_ = columns_.cols() == 0 ? Eigen::MatrixXcd(0, a.rows()) : pseudo_inverse(columns_);
}

double Bounds::radius(int c, double t, double rho_squared) const {
  const auto row = inverse_.row(c);
  const double left = static_cast<double>(columns_.rows()) * t * t - rho_squared;
  const double radius = std::min(t * row.cwiseAbs().sum(), row.norm() * std::sqrt(std::max(0.0, left)));
  return radius * (1.0 + 1e-9) + 1e-12 * row.norm();  // rounding must not cut off the best
}

double Bounds::rho_squared(const Eigen::VectorXcd& b) const {
  if (columns_.cols() == 0) return b.squaredNorm();
  return (b - columns_ * (inverse_ * b)).squaredNorm();
}

double Bounds::least_ratio(const Eigen::VectorXcd& b) const {
  if (b.size() == 0) return 0.0;
  if (columns_.cols() == 0) return b.cwiseAbs().maxCoeff();
  return std::sqrt(rho_squared(b) / static_cast<double>(b.size())) * (1.0 - 1e-9);
}

}  // namespace counterspot
