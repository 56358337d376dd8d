#pragma once

#include <Eigen/Core>
#include <vector>

#include "counterspot/influence/least_residual.hpp"

namespace counterspot {

/// What to add at the planes, the one rule of it, with phases or without: −unbalance, or where a limit is set or the
/// worst of the rows is to be least, what leaves the least of them; nothing at a plane with a limit of 0.
/// @param problem of all planes; its limits may be 0. @param kept those that may have a part, ascending.
/// @param unbalance P, what the planes have of it.
Eigen::VectorXcd correction_for(ResidualProblem problem, std::vector<Eigen::Index> kept,
                                const Eigen::VectorXcd& unbalance, Least least);

/// Of every plane, kg·m; empty stays empty.
inline Eigen::VectorXd as_limits(const std::vector<double>& most_kg_m) {
  return Eigen::Map<const Eigen::VectorXd>(most_kg_m.data(), static_cast<Eigen::Index>(most_kg_m.size()));
}

}  // namespace counterspot
