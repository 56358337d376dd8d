#include "tracking/level_trend.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

namespace counterspot {
namespace {

using Complex = std::complex<double>;

constexpr std::size_t cells_per_corner = 8;
constexpr std::size_t most_pieces = 64;

/// A broken line over the cells of a range: where a cell's beginning and end lie on it.
struct BrokenLine {
  double begin_frame;
  double frames_per_piece;
  Eigen::VectorXd corners;

  double at(double frame) const {
    const double place = std::clamp((frame - begin_frame) / frames_per_piece, 0.0,
                                    static_cast<double>(corners.size() - 1) * (1.0 - 1e-12));
    const auto piece = static_cast<Eigen::Index>(place);
    const double share = place - static_cast<double>(piece);
    return (1.0 - share) * corners(piece) + share * corners(piece + 1);
  }
};

double middle_of(const Cell& cell) {
  return 0.5 * (cell.begin_frame + cell.end_frame);
}

BrokenLine fit_line(const Cells& cells, CellRange range, const std::vector<double>& means) {
  const std::size_t pieces = std::clamp<std::size_t>(range.size() / cells_per_corner, 1, most_pieces);
  const double begin = cells.cell(range.begin).begin_frame;
  const double span = cells.cell(range.end - 1).end_frame - begin;
  BrokenLine line{begin, span / static_cast<double>(pieces), {}};
  const auto count = static_cast<Eigen::Index>(pieces + 1);
  Eigen::MatrixXd gram = Eigen::MatrixXd::Zero(count, count);
  Eigen::VectorXd right = Eigen::VectorXd::Zero(count);
  for (std::size_t i = 0; i < range.size(); ++i) {
    const Cell& cell = cells.cell(range.begin + i);
    const double place = (middle_of(cell) - begin) / line.frames_per_piece;
    const auto piece = std::min(static_cast<Eigen::Index>(place), count - 2);
    const double share = place - static_cast<double>(piece);
    const auto weight = static_cast<double>(cell.frames);
    gram(piece, piece) += weight * (1.0 - share) * (1.0 - share);
    gram(piece + 1, piece + 1) += weight * share * share;
    gram(piece + 1, piece) += weight * share * (1.0 - share);
    right(piece) += weight * (1.0 - share) * means[i];
    right(piece + 1) += weight * share * means[i];
  }
  gram.diagonal().array() += 1e-12 * gram.diagonal().maxCoeff();  // a piece that the shaft was lost in
  line.corners = gram.ldlt().solve(right);                        // reads the lower half
  return line;
}

/// Σ_n (n − middle) e^{jkθ} over a cell: the derivative of the geometric series.
Complex ramp_sum(const Cell& cell, double k) {
  const double step = turn_rad * static_cast<double>(cell.turns) / cell.turning_frames;
  const double first = std::ceil(cell.begin_frame);
  const Complex z = std::polar(1.0, k * step);
  const auto n = static_cast<double>(cell.frames);
  const Complex at_end = std::polar(1.0, k * step * n);
  const Complex sum = (1.0 - at_end) / (1.0 - z);
  const Complex counted = (z * sum - n * at_end) / (1.0 - z);  // Σ n z^n
  const Complex start = std::polar(1.0, k * (cell.begin_angle_rad + step * (first - cell.begin_frame)));
  return start * (counted - (middle_of(cell) - first) * sum);
}

}  // namespace

double take_off_trend(Cells& cells, CellRange range, std::size_t sensor, const OrderFit& fit) {
  const std::vector<double>& orders = cells.orders();
  std::vector<double> means;
  double frames = 0.0;
  for (std::size_t i = range.begin; i < range.end; ++i) {
    const auto n = static_cast<double>(cells.cell(i).frames);
    double rest = cells.sum(i, sensor) - fit.dc * n;
    for (std::size_t o = 0; o < orders.size(); ++o)
      rest -= (fit.orders[o] * std::conj(cells.phasor_sum(i, orders[o]))).real();
    means.push_back(rest / n);
    frames += n;
  }
  BrokenLine line = fit_line(cells, range, means);
  double mean = 0.0;
  for (std::size_t i = range.begin; i < range.end; ++i)
    mean += line.at(middle_of(cells.cell(i))) * static_cast<double>(cells.cell(i).frames) / frames;
  line.corners.array() -= mean;
  std::vector<Complex> sums(orders.size());
  for (std::size_t i = range.begin; i < range.end; ++i) {
    const Cell& cell = cells.cell(i);
    const auto n = static_cast<double>(cell.frames);
    const double level = line.at(middle_of(cell));
    const double slope = (line.at(cell.end_frame) - line.at(cell.begin_frame)) / (cell.end_frame - cell.begin_frame);
    for (std::size_t o = 0; o < orders.size(); ++o)
      sums[o] = level * cells.phasor_sum(i, orders[o]) + slope * ramp_sum(cell, orders[o]);
    cells.take_off(i, sensor, level * n, 2.0 * level * cells.sum(i, sensor) - level * level * n, sums);
  }
  return line.corners(line.corners.size() - 1) - line.corners(0);
}

}  // namespace counterspot
