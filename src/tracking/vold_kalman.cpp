#include <Eigen/SparseCholesky>
#include <Eigen/SparseCore>
#include <array>
#include <cmath>

#include "counterspot/tracking/sweep.hpp"

namespace counterspot {
namespace {

using Complex = std::complex<double>;

/// Coefficients of the p-th difference.
std::vector<double> difference(int poles) {
  switch (poles) {
    case 1: return {1.0, -1.0};
    case 2: return {1.0, -2.0, 1.0};
    default: return {1.0, -3.0, 3.0, -1.0};
  }
}

/// r² ∇ᵀ∇ at (row, row + distance) of n samples; near the ends fewer differences reach it.
double structural(const std::vector<double>& d, double weight, std::size_t n, std::size_t row, std::size_t distance) {
  double sum = 0.0;
  for (std::size_t i = distance; i < d.size(); ++i) {
    // difference number m covers samples m … m + p; sample `row` is its element i − distance, `row + distance` its
    // element i
    const std::size_t element = i - distance;
    if (row < element || row - element + d.size() > n) continue;
    sum += d[element] * d[i];
  }
  return weight * sum;
}

}  // namespace

double vold_kalman_weight(int poles, double bandwidth) {
  const double w = pi * bandwidth;
  const double down = std::sqrt(2.0) - 1.0;
  switch (poles) {
    case 1: return down / (2.0 * (1.0 - std::cos(w)));
    case 2: return down / (6.0 - 8.0 * std::cos(w) + 2.0 * std::cos(2.0 * w));
    default: return down / (20.0 - 30.0 * std::cos(w) + 12.0 * std::cos(2.0 * w) - 2.0 * std::cos(3.0 * w));
  }
}

std::vector<std::vector<std::vector<Complex>>> vold_kalman(const std::vector<std::vector<double>>& channels,
                                                           const std::vector<std::vector<Complex>>& carriers, int poles,
                                                           double bandwidth) {
  const std::size_t orders = carriers.size();
  const std::size_t n = carriers.front().size();
  const std::vector<double> d = difference(poles);
  const double weight = vold_kalman_weight(poles, bandwidth);
  const auto size = static_cast<Eigen::Index>(n * orders);

  // lower triangle, sample by sample with the orders side by side, so that the matrix is banded and needs no reordering
  Eigen::SparseMatrix<Complex> normal(size, size);
  normal.reserve(Eigen::VectorXi::Constant(size, static_cast<int>(d.size() - 1 + orders)));
  for (std::size_t s = 0; s < n; ++s) {
    for (std::size_t k = 0; k < orders; ++k) {
      const auto column = static_cast<Eigen::Index>(s * orders + k);
      normal.insert(column, column) = structural(d, weight, n, s, 0) + std::norm(carriers[k][s]);
      for (std::size_t l = k + 1; l < orders; ++l) {
        normal.insert(static_cast<Eigen::Index>(s * orders + l), column) = std::conj(carriers[l][s]) * carriers[k][s];
      }
      for (std::size_t distance = 1; distance < d.size() && s + distance < n; ++distance) {
        normal.insert(static_cast<Eigen::Index>((s + distance) * orders + k), column) =
            structural(d, weight, n, s, distance);
      }
    }
  }
  normal.makeCompressed();
  Eigen::SimplicialLDLT<Eigen::SparseMatrix<Complex>, Eigen::Lower, Eigen::NaturalOrdering<int>> factors(normal);

  std::vector<std::vector<std::vector<Complex>>> envelopes;
  for (const std::vector<double>& y : channels) {
    Eigen::VectorXcd right(size);
    for (std::size_t s = 0; s < n; ++s) {
      for (std::size_t k = 0; k < orders; ++k)
        right(static_cast<Eigen::Index>(s * orders + k)) = std::conj(carriers[k][s]) * y[s];
    }
    const Eigen::VectorXcd solution = factors.solve(right);
    auto& channel = envelopes.emplace_back(orders, std::vector<Complex>(n));
    for (std::size_t s = 0; s < n; ++s) {
      for (std::size_t k = 0; k < orders; ++k) channel[k][s] = solution(static_cast<Eigen::Index>(s * orders + k));
    }
  }
  return envelopes;
}

}  // namespace counterspot
