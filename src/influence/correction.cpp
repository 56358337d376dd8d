#include "influence/correction.hpp"

#include <algorithm>
#include <cmath>

namespace counterspot {

namespace {

bool is_limited(const InfluenceOptions& options) {
  return std::any_of(options.most_kg_m.begin(), options.most_kg_m.end(),
                     [](double most) { return std::isfinite(most); });
}

/// Those of the planes that may still carry something.
std::vector<Eigen::Index> with_room(const InfluenceOptions& options, std::vector<Eigen::Index> planes) {
  std::erase_if(planes, [&](Eigen::Index p) { return !(options.most_kg_m[static_cast<std::size_t>(p)] > 0.0); });
  return planes;
}

}  // namespace

InfluenceOptions of_bare(InfluenceOptions options) {
  if (!options.most_bare_kg_m.empty()) options.most_kg_m = options.most_bare_kg_m;
  return options;
}

Eigen::VectorXcd correction_for(const InfluenceOptions& options, const std::vector<Eigen::Index>& kept,
                                const PresentReadings& readings, const Eigen::VectorXcd& unbalance) {
  const bool limited = is_limited(options);
  if (options.least == Least::squares && !limited) return -unbalance;
  const std::vector<Eigen::Index> planes = limited ? with_room(options, kept) : kept;
  Eigen::VectorXcd correction = Eigen::VectorXcd::Zero(readings.alpha.cols());
  if (planes.empty()) return correction;
  ResidualProblem problem{readings.weights.asDiagonal() * readings.alpha(Eigen::all, planes),
                          readings.weights.asDiagonal() * readings.present,
                          {}};
  if (limited) {
    problem.most = Eigen::Map<const Eigen::VectorXd>(options.most_kg_m.data(),
                                                     static_cast<Eigen::Index>(options.most_kg_m.size()))(planes);
  }
  correction(planes) = least_residual(problem, options.least).added;
  return correction;
}

}  // namespace counterspot
