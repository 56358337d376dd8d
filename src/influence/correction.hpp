#pragma once

#include <Eigen/Core>
#include <vector>

#include "counterspot/influence/influence.hpp"

namespace counterspot {

/// All readings as they are with the present weights, and what the planes do to them.
struct PresentReadings {
  Eigen::MatrixXcd alpha;    ///< M×P
  Eigen::VectorXd weights;   ///< M: 1 over the noise
  Eigen::VectorXcd present;  ///< M
};

/// The same options once the pieces that come off are off.
InfluenceOptions of_bare(InfluenceOptions options);

/// What to add at the planes that are kept. Without limits and in least squares it undoes the residual.
Eigen::VectorXcd correction_for(const InfluenceOptions& options, const std::vector<Eigen::Index>& kept,
                                const PresentReadings& readings, const Eigen::VectorXcd& unbalance);

}  // namespace counterspot
