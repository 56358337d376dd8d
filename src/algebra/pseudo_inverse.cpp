#include "algebra/pseudo_inverse.hpp"

#include <Eigen/QR>

namespace counterspot {

Eigen::VectorXd least_squares(const Eigen::MatrixXd& a, const Eigen::VectorXd& b) {
  return a.completeOrthogonalDecomposition().solve(b);
}

Eigen::VectorXcd least_squares(const Eigen::MatrixXcd& a, const Eigen::VectorXcd& b) {
  return a.completeOrthogonalDecomposition().solve(b);
}

Eigen::MatrixXd pseudo_inverse(const Eigen::MatrixXd& a) {
  return a.completeOrthogonalDecomposition().pseudoInverse();
}

Eigen::MatrixXcd pseudo_inverse(const Eigen::MatrixXcd& a) {
  return a.completeOrthogonalDecomposition().pseudoInverse();
}

}  // namespace counterspot
