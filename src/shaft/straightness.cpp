#include "counterspot/shaft/straightness.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <map>

#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

std::size_t different_angles(const std::vector<DialReading>& readings) {
  std::vector<double> angles;
  for (const DialReading& r : readings) angles.push_back(std::remainder(r.angle_rad, turn_rad));
  std::size_t count = 0;
  for (std::size_t i = 0; i < angles.size(); ++i) {
    auto same = [&](double a) { return std::abs(std::remainder(a - angles[i], turn_rad)) < radians(0.5); };
    if (std::none_of(angles.begin(), angles.begin() + static_cast<std::ptrdiff_t>(i), same)) ++count;
  }
  return count;
}

[[noreturn]] void refuse(const DialStation& station) {
  throw Error(Trouble::request, "too_few_readings",
              "the dial readings at " + std::to_string(std::lround(station.position_m * 1e3)) + " mm do not show a bow",
              "read at three or more angles spread round the shaft; four quarters are usual");
}

Eigen::MatrixXd design(const std::vector<DialReading>& readings, bool second_order) {
  Eigen::MatrixXd rows(readings.size(), second_order ? 5 : 3);
  for (std::size_t i = 0; i < readings.size(); ++i) {
    const double b = readings[i].angle_rad;
    const auto row = static_cast<Eigen::Index>(i);
    rows.row(row).head<3>() << 1.0, std::cos(b), std::sin(b);
    if (second_order) rows.row(row).tail<2>() << std::cos(2 * b), std::sin(2 * b);
  }
  return rows;
}

StationFit fit_station(const DialStation& station) {
  const std::size_t angles = different_angles(station.readings);
  if (angles < 3) refuse(station);
  const Eigen::MatrixXd rows = design(station.readings, angles >= 6);
  Eigen::VectorXd heights(rows.rows());
  for (Eigen::Index i = 0; i < rows.rows(); ++i) heights(i) = station.readings[static_cast<std::size_t>(i)].height_m;
  const Eigen::JacobiSVD<Eigen::MatrixXd> svd(rows, Eigen::ComputeThinU | Eigen::ComputeThinV);
  const Eigen::VectorXd& singular = svd.singularValues();
  if (singular(0) > 20.0 * singular(singular.size() - 1)) refuse(station);
  const Eigen::VectorXd x = svd.solve(heights);

  StationFit fit;
  fit.position_m = station.position_m;
  fit.bow_m = {x(1), x(2)};
  if (x.size() == 5) fit.out_of_round_m = {x(3), x(4)};
  fit.indicator_total_m = heights.maxCoeff() - heights.minCoeff();
  const Eigen::Index freedom = rows.rows() - rows.cols();
  if (freedom > 0) {
    const double variance = (heights - rows * x).squaredNorm() / static_cast<double>(freedom);
    const Eigen::MatrixXd covariance = variance * (rows.transpose() * rows).inverse();
    fit.u_bow_m = std::sqrt(std::max(covariance(1, 1), covariance(2, 2)));
  }
  return fit;
}

// The bow as a polyline: its stations, and zero at each support without a station of its own.
std::map<double, Phasor> polyline(const StraightnessSummary& fit, const Beam& beam) {
  std::map<double, Phasor> points;
  for (const StationFit& station : fit.stations) points[station.position_m] = station.bow_m;
  for (const BeamSupport& support : beam.supports) {
    const double z = support.position_m;
    auto near = [z](const StationFit& s) { return std::abs(s.position_m - z) < 1e-3; };
    if (std::none_of(fit.stations.begin(), fit.stations.end(), near)) points[z] = 0.0;
  }
  return points;
}

double mass_per_length(const Beam& beam, double z) {
  for (const BeamSection& s : beam.sections)
    if (z >= s.begin_m && z <= s.end_m) return s.mass_per_length_kg_m();
  return 0.0;
}

Phasor bow_at(const std::map<double, Phasor>& points, double z) {
  const auto right = points.lower_bound(z);
  if (right == points.end()) return 0.0;
  if (right->first == z) return right->second;
  if (right == points.begin()) return 0.0;
  const auto left = std::prev(right);
  const double t = (z - left->first) / (right->first - left->first);
  return (1.0 - t) * left->second + t * right->second;
}

}  // namespace

StraightnessSummary fit_straightness(std::vector<DialStation> stations, const StraightnessOptions& options) {
  if (stations.empty())
    throw Error(Trouble::request, "no_readings", "there are no dial readings",
                "state the readings of at least one station");
  std::sort(stations.begin(), stations.end(),
            [](const DialStation& a, const DialStation& b) { return a.position_m < b.position_m; });
  StraightnessSummary summary;
  for (const DialStation& station : stations) summary.stations.push_back(fit_station(station));
  std::size_t most_bent = 0;
  for (std::size_t i = 0; i < summary.stations.size(); ++i) {
    if (summary.stations[i].indicator_total_m > summary.worst_indicator_total_m) {
      summary.worst_indicator_total_m = summary.stations[i].indicator_total_m;
      summary.worst_station = i;
    }
    if (std::abs(summary.stations[i].bow_m) > std::abs(summary.stations[most_bent].bow_m)) most_bent = i;
  }
  summary.within = summary.worst_indicator_total_m <= options.indicator_limit_m;
  const StationFit& bent = summary.stations[most_bent];
  if (!summary.within) summary.straighten = {bent.position_m, radians(direction_deg(bent.bow_m)), std::abs(bent.bow_m)};
  return summary;
}

BowUnbalance unbalance_of_bow(const StraightnessSummary& fit, const Beam& beam, double plane_a_m, double plane_b_m) {
  const std::map<double, Phasor> points = polyline(fit, beam);
  std::vector<double> stops;
  for (const auto& [z, bow] : points) stops.push_back(z);
  for (const BeamSection& s : beam.sections) {
    stops.push_back(s.begin_m);
    stops.push_back(s.end_m);
  }
  std::sort(stops.begin(), stops.end());
  BowUnbalance unbalance;
  auto add = [&](double z, const Phasor& kg_m) {
    unbalance.a_kg_m += kg_m * (plane_b_m - z) / (plane_b_m - plane_a_m);
    unbalance.b_kg_m += kg_m * (z - plane_a_m) / (plane_b_m - plane_a_m);
  };
  // Between stops μ is constant, e and the lever are straight lines: Simpson's rule is exact.
  for (std::size_t i = 0; i + 1 < stops.size(); ++i) {
    const double from = stops[i];
    const double to = stops[i + 1];
    if (to - from < 1e-9) continue;
    const double middle = 0.5 * (from + to);
    const double mu = mass_per_length(beam, middle) * (to - from) / 6.0;
    add(from, mu * bow_at(points, from));
    add(middle, 4.0 * mu * bow_at(points, middle));
    add(to, mu * bow_at(points, to));
  }
  for (const BeamMass& m : beam.masses) add(m.position_m, m.mass_kg * bow_at(points, m.position_m));
  return unbalance;
}

}  // namespace counterspot
