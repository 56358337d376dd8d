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

/// How well the mean of a series is known.
struct MeanUncertainty {
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();
  double rise = 1.0;  ///< variance over what the ordinates would give if all were alike
};

/// Covariance of the mean of a series of vectors that may be correlated over time: its spectral density at zero
/// frequency over the number of values (Priestley, Spectral Analysis and Time Series, 1981, 5.3), from the lowest
/// periodogram ordinates without zero: for the demodulated residual, the frequencies beside the order. Where noise is
/// coloured by a lightly damped resonance at the order, or a neighbour is less than a beat away, the density rises
/// towards zero: S(q) = c(1 + R/(1 + (q/w)²)), the square of a resonance's response, on a floor. Which R and w it is,
/// is averaged over by the likelihood of the ordinates (Whittle; Priestley 6.1.5), 98 of 100 being held for a flat
/// one beforehand. With few values, all of them, which is the sample covariance over their number. Scaled so that the
/// 95 % region taken with k² = 5.99 holds for the few degrees of freedom (Hotelling's T², Anderson, Multivariate
/// Statistical Analysis, 5.2).
MeanUncertainty uncertainty_of_mean(const std::vector<std::complex<double>>& series);

}  // namespace counterspot
