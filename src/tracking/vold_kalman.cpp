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
  const std::size_t unknowns = 2 * orders;  // of a sample: real and imaginary part of each order's envelope
  const std::vector<double> d = difference(poles);
  const double weight = 2.0 * vold_kalman_weight(poles, bandwidth);
  const auto size = static_cast<Eigen::Index>(n * unknowns);

  // what each part adds to the signal: 2 Re(x c) = 2 (Re x Re c − Im x Im c)
  Eigen::VectorXd effect(size);
  for (std::size_t s = 0; s < n; ++s) {
    for (std::size_t k = 0; k < orders; ++k)
      effect.segment<2>(static_cast<Eigen::Index>(s * unknowns + 2 * k)) << 2.0 * carriers[k][s].real(),
          -2.0 * carriers[k][s].imag();
  }

  // lower triangle, sample by sample with the unknowns side by side, so that the matrix is banded and needs no
  // reordering
  Eigen::SparseMatrix<double> normal(size, size);
  normal.reserve(Eigen::VectorXi::Constant(size, static_cast<int>(d.size() - 1 + unknowns)));
  for (std::size_t s = 0; s < n; ++s) {
    for (std::size_t i = 0; i < unknowns; ++i) {
      const auto column = static_cast<Eigen::Index>(s * unknowns + i);
      normal.insert(column, column) = structural(d, weight, n, s, 0) + effect(column) * effect(column);
      for (auto row = column + 1; row < static_cast<Eigen::Index>((s + 1) * unknowns); ++row)
        normal.insert(row, column) = effect(row) * effect(column);
      for (std::size_t distance = 1; distance < d.size() && s + distance < n; ++distance) {
        normal.insert(static_cast<Eigen::Index>((s + distance) * unknowns + i), column) =
            structural(d, weight, n, s, distance);
      }
    }
  }
  normal.makeCompressed();
  const Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>, Eigen::Lower, Eigen::NaturalOrdering<int>> factors(normal);

  std::vector<std::vector<std::vector<Complex>>> envelopes;
  for (const std::vector<double>& y : channels) {
    Eigen::VectorXd right = effect;
    for (std::size_t s = 0; s < n; ++s)
      right.segment(static_cast<Eigen::Index>(s * unknowns), static_cast<Eigen::Index>(unknowns)) *= y[s];
    const Eigen::VectorXd solution = factors.solve(right);
    auto& channel = envelopes.emplace_back(orders, std::vector<Complex>(n));
    for (std::size_t s = 0; s < n; ++s) {
      for (std::size_t k = 0; k < orders; ++k) {
        const auto at = static_cast<Eigen::Index>(s * unknowns + 2 * k);
        channel[k][s] = {solution(at), solution(at + 1)};
      }
    }
  }
  return envelopes;
}

}  // namespace counterspot
