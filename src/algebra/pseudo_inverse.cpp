#include "algebra/pseudo_inverse.hpp"

#include <Eigen/QR>

namespace counterspot {

namespace {

/// Of a tall matrix by its triangle, a⁺ = R⁺Q₁ᵀ: Eigen's own solves for a square of all rows.
template <typename Matrix>
Matrix inverse_of(const Matrix& a) {
  if (a.rows() <= a.cols()) return a.completeOrthogonalDecomposition().pseudoInverse();
  const Eigen::HouseholderQR<Matrix> qr(a);
  const Matrix triangle = qr.matrixQR().topRows(a.cols()).template triangularView<Eigen::Upper>();
  const Matrix basis = qr.householderQ() * Matrix::Identity(a.rows(), a.cols());
  return Matrix(triangle.completeOrthogonalDecomposition().pseudoInverse()) * basis.adjoint();
}

}  // namespace

Eigen::VectorXd least_squares(const Eigen::MatrixXd& a, const Eigen::VectorXd& b) {
  return a.completeOrthogonalDecomposition().solve(b);
}

Eigen::VectorXcd least_squares(const Eigen::MatrixXcd& a, const Eigen::VectorXcd& b) {
  return a.completeOrthogonalDecomposition().solve(b);
}

Eigen::MatrixXd pseudo_inverse(const Eigen::MatrixXd& a) {
  return inverse_of(a);
}

Eigen::MatrixXcd pseudo_inverse(const Eigen::MatrixXcd& a) {
  return inverse_of(a);
}

}  // namespace counterspot
