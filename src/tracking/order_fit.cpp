#include "tracking/order_fit.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <array>
#include <cmath>

namespace counterspot {
namespace {

constexpr std::size_t least_bins = 12;
constexpr std::size_t most_bins = 32;
constexpr std::size_t values_per_bin = 16;
constexpr double flat_beforehand = 0.98;

std::complex<double> phasor_sum(const Cells& cells, CellRange range, double m) {
  std::complex<double> sum = 0.0;
  for (std::size_t i = range.begin; i < range.end; ++i) sum += cells.phasor_sum(i, m);
  return sum;
}

/// Gram matrix of 1, cos k₁θ, sin k₁θ, cos k₂θ, …
Eigen::MatrixXd gram_matrix(const Cells& cells, CellRange range) {
  const std::vector<double>& orders = cells.orders();
  const auto size = static_cast<Eigen::Index>(1 + 2 * orders.size());
  Eigen::MatrixXd gram(size, size);
  gram(0, 0) = phasor_sum(cells, range, 0).real();
  for (std::size_t a = 0; a < orders.size(); ++a) {
    const auto row = static_cast<Eigen::Index>(1 + 2 * a);
    const auto single = phasor_sum(cells, range, orders[a]);
    gram(row, 0) = gram(0, row) = single.real();
    gram(row + 1, 0) = gram(0, row + 1) = single.imag();
    for (std::size_t b = 0; b < orders.size(); ++b) {
      const auto column = static_cast<Eigen::Index>(1 + 2 * b);
      const auto plus = phasor_sum(cells, range, orders[a] + orders[b]);
      const auto minus = phasor_sum(cells, range, orders[a] - orders[b]);
      gram(row, column) = 0.5 * (minus.real() + plus.real());
      gram(row, column + 1) = 0.5 * (plus.imag() - minus.imag());
      gram(row + 1, column) = 0.5 * (plus.imag() + minus.imag());
      gram(row + 1, column + 1) = 0.5 * (minus.real() - plus.real());
    }
  }
  return gram;
}

Eigen::VectorXd right_side(const Cells& cells, CellRange range, std::size_t sensor) {
  const std::size_t orders = cells.orders().size();
  Eigen::VectorXd right = Eigen::VectorXd::Zero(static_cast<Eigen::Index>(1 + 2 * orders));
  for (std::size_t i = range.begin; i < range.end; ++i) {
    right(0) += cells.sum(i, sensor);
    for (std::size_t o = 0; o < orders; ++o) {
      const auto sum = cells.order_sum(i, sensor, o);
      right(static_cast<Eigen::Index>(1 + 2 * o)) += sum.real();
      right(static_cast<Eigen::Index>(2 + 2 * o)) += sum.imag();
    }
  }
  return right;
}

double frames_in(const Cells& cells, CellRange range) {
  return phasor_sum(cells, range, 0).real();
}

/// T² of the 95 % region of a 2-vector whose covariance has n degrees of freedom, over that of a known covariance.
double few_degrees_factor(double n) {
  const double known = -2.0 * std::log(0.05);
  return n * (std::pow(0.05, -2.0 / (n - 1.0)) - 1.0) / known;
}

/// A shape of the density, up to its size, against ordinates q = 1, 2, … Each ordinate, of two parts, has four degrees
/// of freedom.
struct Shape {
  double rise = 0.0;   // R
  double width = 1.0;  // w, in ordinates
};

struct ShapeFit {
  double log_likelihood = 0.0;
  Eigen::Matrix2d at_zero;
};

ShapeFit fit_shape(const std::vector<Eigen::Matrix2d>& ordinates, Shape shape) {
  const auto count = static_cast<double>(ordinates.size());
  Eigen::Matrix2d sum = Eigen::Matrix2d::Zero();
  double logs = 0.0;
  for (std::size_t i = 0; i < ordinates.size(); ++i) {
    const double q = static_cast<double>(i + 1) / shape.width;
    const double m = 1.0 + shape.rise / (1.0 + q * q);
    sum += ordinates[i] / m;
    logs += std::log(m);
  }
  const double alike_ordinates = shape.rise > 0.0 ? std::clamp(2.0 * shape.width + 1.0, 3.0, count) : count;
  const double size = sum.trace() / count;
  return {-2.0 * (logs + count * std::log(std::max(size, 1e-300))),
          few_degrees_factor(2.0 * alike_ordinates) * (1.0 + shape.rise) * sum / count};
}

MeanUncertainty density_at_zero(const std::vector<Eigen::Matrix2d>& ordinates) {
  const ShapeFit flat = fit_shape(ordinates, {});
  if (!(flat.at_zero.trace() > 0.0)) return {flat.at_zero, 1.0};
  constexpr std::array widths = {0.35, 0.5, 0.7, 1.0, 1.5, 2.0, 3.0, 5.0};
  constexpr int rises = 10;  // 4, 16, … 4^10
  Eigen::Matrix2d sum = flat_beforehand * flat.at_zero;
  double weights = flat_beforehand;
  for (const double width : widths) {
    for (int r = 1; r <= rises; ++r) {
      const ShapeFit fit = fit_shape(ordinates, {std::pow(4.0, r), width});
      const double weight = (1.0 - flat_beforehand) / static_cast<double>(widths.size() * rises) *
                            std::exp(std::min(600.0, fit.log_likelihood - flat.log_likelihood));
      sum += weight * fit.at_zero;
      weights += weight;
    }
  }
  sum /= weights;
  return {sum, sum.trace() / flat.at_zero.trace()};
}

}  // namespace

std::vector<OrderFit> fit_orders(const Cells& cells, CellRange range) {
  const Eigen::LDLT<Eigen::MatrixXd> normal(gram_matrix(cells, range));
  const double frames = frames_in(cells, range);
  std::vector<OrderFit> fits(cells.sensors());
  for (std::size_t sensor = 0; sensor < fits.size(); ++sensor) {
    OrderFit& fit = fits[sensor];
    const Eigen::VectorXd right = right_side(cells, range, sensor);
    const Eigen::VectorXd solution = normal.solve(right);
    double square = 0.0;
    for (std::size_t i = range.begin; i < range.end; ++i) square += cells.square(i, sensor);
    fit.dc = solution(0);
    fit.mean_square_residual = std::max(0.0, square - right.dot(solution)) / frames;
    for (std::size_t o = 0; o < cells.orders().size(); ++o) {
      const auto row = static_cast<Eigen::Index>(1 + 2 * o);
      fit.orders.emplace_back(solution(row), solution(row + 1));
    }
  }
  return fits;
}

std::vector<std::complex<double>> demodulated_residual(const Cells& cells, CellRange range, std::size_t sensor,
                                                       std::size_t order, const OrderFit& fit) {
  const std::vector<double>& orders = cells.orders();
  const double share = 2.0 * static_cast<double>(range.size()) / frames_in(cells, range);
  std::vector<std::complex<double>> series;
  series.reserve(range.size());
  for (std::size_t i = range.begin; i < range.end; ++i) {
    std::complex<double> rest = cells.order_sum(i, sensor, order) - fit.dc * cells.phasor_sum(i, orders[order]);
    for (std::size_t l = 0; l < orders.size(); ++l) {
      rest -= 0.5 * (fit.orders[l] * cells.phasor_sum(i, orders[order] - orders[l]) +
                     std::conj(fit.orders[l]) * cells.phasor_sum(i, orders[order] + orders[l]));
    }
    series.push_back(share * rest);
  }
  return series;
}

MeanUncertainty uncertainty_of_mean(const std::vector<std::complex<double>>& series) {
  const std::size_t count = series.size();
  const auto m = static_cast<double>(count);
  const std::size_t bins = std::clamp(count / values_per_bin, least_bins, most_bins);
  if (2 * bins + 1 >= count) {
    Eigen::Matrix2d sum = Eigen::Matrix2d::Zero();
    const std::complex<double> mean = [&] {
      std::complex<double> total = 0.0;
      for (const auto& v : series) total += v;
      return total / m;
    }();
    for (const auto& v : series) {
      const Eigen::Vector2d d((v - mean).real(), (v - mean).imag());
      sum += d * d.transpose();
    }
    return {few_degrees_factor(m - 1.0) * sum / (m * (m - 1.0)), 1.0};
  }
  std::vector<Eigen::Matrix2d> ordinates;
  for (std::size_t q = 1; q <= bins; ++q) {
    const std::complex<double> step = std::polar(1.0, -turn_rad * static_cast<double>(q) / m);
    std::complex<double> phasor = 1.0;
    std::complex<double> re = 0.0;
    std::complex<double> im = 0.0;
    for (const auto& v : series) {
      re += v.real() * phasor;
      im += v.imag() * phasor;
      phasor *= step;
    }
    const double cross = (re * std::conj(im)).real();
    ordinates.emplace_back((Eigen::Matrix2d() << std::norm(re), cross, cross, std::norm(im)).finished() / (m * m));
  }
  return density_at_zero(ordinates);
}

}  // namespace counterspot
