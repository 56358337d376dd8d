#pragma once

#include <Eigen/Core>
#include <complex>
#include <vector>

#include "tracking/cells.hpp"
#include "tracking/order_fit.hpp"
#include "tracking/steady_components.hpp"

namespace counterspot {

/// One order of one sensor, with what disturbs it fitted along: all in units of a sample.
struct JointFit {
  std::complex<double> value;
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();
  double noise_rise = 1.0;      ///< see MeanUncertainty
  std::complex<double> slope;   ///< dZ over relative change of speed, from the hunting of the speed within the spin
  double u_slope = 0.0;         ///< standard uncertainty of either part of it; 0 if it is not known
  std::vector<double> weights;  ///< of each cell of the range, 1 where nothing is wrong
};

/// Refines one order of `start` (ordinary least squares) from the sums of the cells. The model of a cell's Σ x e^{jkθ}
/// is
///   Σ_n e^{jkθ} [ Re(δZ e^{−jkθ}) + (Ω_i/Ω̄ − 1) Re(s e^{−jkθ}) + Σ_l Re(δC_l e^{−jφ_l}) + δν_l ∂/∂ν_l Re(C_l
///   e^{−jφ_l}) ],
/// every sum a geometric series: steady components within a third of an order, whose first estimates C_l were taken off
/// the cells, are fitted along with their frequency, by their true shape in time or angle. Cells knocked off (residual
/// beyond 16 times the mean square, or six times the median signal energy) count for less in proportion (bounded
/// influence: Huber, Robust Statistics, 1981). With neither components nor knocks the value is that of `start`.
JointFit fit_jointly(const Cells& cells, CellRange range, std::size_t sensor, std::size_t order, const OrderFit& start,
                     const std::vector<Component>& beside);

/// The shape of a joint fit with what ordinary least squares found, nothing fitted along.
JointFit plain_fit(const Cells& cells, CellRange range, std::size_t sensor, std::size_t order, const OrderFit& start);

}  // namespace counterspot
