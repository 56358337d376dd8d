#pragma once

#include <Eigen/Core>
#include <complex>
#include <vector>

#include "tracking/cells.hpp"
#include "tracking/order_fit.hpp"

namespace counterspot {

/// A steady line that does not turn with the shaft: Re(value·e^{−j2πfn}), n in frames from the start of the recording.
struct LineFit {
  double cycles_per_frame = 0.0;
  std::complex<double> value;  ///< in units of a sample, peak
};

/// One order of one sensor, with what disturbs it fitted along: all in units of a sample.
struct JointFit {
  std::complex<double> value;
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();
  std::complex<double> slope;  ///< dZ over relative change of speed, from the hunting of the speed within the spin
  double u_slope = 0.0;        ///< standard uncertainty of either part of it; 0 if it is not known
  std::vector<LineFit> lines;
  std::vector<double> weights;  ///< of each cell of the range, 1 where nothing is wrong
};

/// Refines one order of `start` (ordinary least squares) from the sums of the cells. The model of a cell's Σ x e^{jkθ}
/// is
///   Σ_n e^{jkθ} [ Re(δZ e^{−jkθ}) + (Ω_i/Ω̄ − 1) Re(s e^{−jkθ}) + Σ_l Re(C_l e^{−j2πf_l n}) ],
/// every sum a geometric series, so steady lines, however close, are separated by their true shape in time. Lines are
/// looked for in the spectrum of the demodulated residual (FFTW): a peak 18 times the noise beside it, at least 1.2
/// cycles in the spin away from the order, that explains more than a slow trend does; the frequency is then refined by
/// least squares. Of the frequencies that look alike from turn to turn, the one is taken that agrees with the cells'
/// plain sums too. Cells knocked off (residual beyond 16 times the mean square, or six times the median signal
/// energy) count for less in proportion (bounded influence: Huber, Robust Statistics, 1981). With neither lines nor
/// knocks the value is that of `start`.
JointFit fit_jointly(const Cells& cells, CellRange range, std::size_t sensor, std::size_t order, const OrderFit& start);

/// The shape of a joint fit with what ordinary least squares found, nothing fitted along.
JointFit plain_fit(const Cells& cells, CellRange range, std::size_t sensor, std::size_t order, const OrderFit& start);

}  // namespace counterspot
