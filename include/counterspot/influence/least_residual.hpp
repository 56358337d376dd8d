#pragma once

#include <Eigen/Core>

namespace counterspot {

/// What is made least of the rows that are left: their sum of squares, or the worst of them.
enum class Least { squares, worst };

/// M rows (a sensor at a speed), N planes: what is left after weights w is r = present + response·w, each row already
/// divided by what a unit of it is worth.
struct ResidualProblem {
  Eigen::MatrixXcd response;  ///< M×N
  Eigen::VectorXcd present;   ///< M
  Eigen::VectorXd most;       ///< N: the largest |w|, > 0, infinity for no limit; empty: no limits at all
};

struct ResidualAnswer {
  bool converged = false;
  Eigen::VectorXcd added;  ///< w, N
  double left = 0.0;       ///< √(Σ|r|²) or max|r|
  double gap = 0.0;        ///< proven: no w within the limits leaves less than left − gap
  int steps = 0;           ///< of Newton's method
};

/// min ‖r‖₂ or min max|r_i|, subject to |w_p| ≤ most_p: a second-order cone programme of 2N + 1 variables, by a
/// logarithmic barrier with Newton's method (S. Boyd & L. Vandenberghe, Convex Optimization, 2004, 11.2–11.3 and 11.6;
/// the barrier of a cone |r| ≤ t is −log(t² − |r|²) with degree 2, so the gap on the central path is the sum of the
/// degrees over τ). Least squares without limits is solved directly, of least length where the planes depend on one
/// another. Accuracy: gap under 1e-8 of the largest |present|; dependent columns change w, not what is left.
/// @throws nothing; numbers that are not finite give `converged` = false.
ResidualAnswer least_residual(const ResidualProblem& problem, Least least);

}  // namespace counterspot
