#pragma once

#include <Eigen/Core>

namespace counterspot {

/// Least squares by Eigen's complete orthogonal decomposition, which finds the rank: of those x that leave the least of
/// |a x − b|, the shortest. Here once, for to compile it takes longer than all that asks for it.
Eigen::VectorXd least_squares(const Eigen::MatrixXd& a, const Eigen::VectorXd& b);
Eigen::VectorXcd least_squares(const Eigen::MatrixXcd& a, const Eigen::VectorXcd& b);

/// a⁺ of Moore and Penrose: a⁺b is that x. Columns × rows.
Eigen::MatrixXd pseudo_inverse(const Eigen::MatrixXd& a);
Eigen::MatrixXcd pseudo_inverse(const Eigen::MatrixXcd& a);

}  // namespace counterspot
