#pragma once

#include <Eigen/Core>
#include <complex>
#include <vector>

#include "tracking/cells.hpp"

namespace counterspot {

/// A half-open range of cells.
struct CellRange {
  std::size_t begin = 0;
  std::size_t end = 0;
  std::size_t size() const { return end - begin; }
};

/// The fit of x = d + Σ_k Re(Z_k e^{−jkθ}) to one sensor, in units of its samples.
struct OrderFit {
  double dc = 0.0;
  std::vector<std::complex<double>> orders;
  double mean_square_residual = 0.0;
};

/// Ordinary least squares of DC and all orders jointly over the cells of the range, for every sensor.
std::vector<OrderFit> fit_orders(const Cells& cells, CellRange range);

/// What the fit leaves of each cell at an order, as its share of the estimate: Σ_i of it, over the number of cells,
/// would be added to Z.
std::vector<std::complex<double>> demodulated_residual(const Cells& cells, CellRange range, std::size_t sensor,
                                                       std::size_t order, const OrderFit& fit);

/// Covariance of the mean of a series of vectors that may be correlated over time: its spectral density at zero
/// frequency over the number of values (Priestley, Spectral Analysis and Time Series, 1981, 5.3), taken as the average
/// of the J lowest periodogram ordinates without zero. For the demodulated residual these are the frequencies beside
/// the order. With few values, all of them, which is the sample covariance over their number. Scaled so that the 95 %
/// region taken with k² = 5.99 holds for the few degrees of freedom (Hotelling's T², Anderson, Multivariate Statistical
/// Analysis, 5.2).
Eigen::Matrix2d covariance_of_mean(const std::vector<std::complex<double>>& series);

}  // namespace counterspot
