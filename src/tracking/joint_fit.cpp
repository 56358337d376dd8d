#include "tracking/joint_fit.hpp"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>

#include "algebra/median.hpp"

namespace counterspot {
namespace {

using Complex = std::complex<double>;

constexpr std::size_t least_cells = 24;
constexpr double knocked_residual = 16.0;  // of the mean square; exp(−16) a turn in pure noise
constexpr double few_turns_more = 25.0;    // the spread of n turns is itself uncertain: (1 + 25/n) times that
constexpr double knocked_energy = 6.0;     // of the median
constexpr int most_passes = 4;
constexpr double rounding_power = 1e-12;  // of the signal's: what lies below is arithmetic, not noise
constexpr double within_orders = 0.3;     // of a component that is fitted along

/// The cells of one sensor and order, ready for least squares; rows are scaled to equal noise.
class Problem {
 public:
  Problem(const Cells& cells, CellRange range, std::size_t sensor, std::size_t order, const OrderFit& start)
      : cells_(cells), range_(range), k_(cells.orders()[order]), weights(range.size(), 1.0) {
    const std::vector<double>& orders = cells.orders();
    double frames = 0.0;
    double turning = 0.0;
    double turns = 0.0;
    for (std::size_t i = 0; i < size(); ++i) {
      const Cell& cell = this->cell(i);
      Complex rest = cells.order_sum(range.begin + i, sensor, order) - start.dc * cells.phasor_sum(range.begin + i, k_);
      for (std::size_t l = 0; l < orders.size(); ++l) {
        rest -= 0.5 * (start.orders[l] * cells.phasor_sum(range.begin + i, k_ - orders[l]) +
                       std::conj(start.orders[l]) * cells.phasor_sum(range.begin + i, k_ + orders[l]));
      }
      const double root = std::sqrt(static_cast<double>(cell.frames));
      rows.push_back(rest / root);
      const double n = static_cast<double>(cell.frames);
      const double mean = cells.sum(range.begin + i, sensor) / n;
      energies.push_back(std::max(0.0, cells.square(range.begin + i, sensor) / n - mean * mean));
      frames += static_cast<double>(cell.frames);
      turning += cell.turning_frames;
      turns += static_cast<double>(cell.turns);
    }
    const double turns_per_frame = turns / turning;
    double mean_departure = 0.0;
    for (std::size_t i = 0; i < size(); ++i) {
      departures_.push_back(static_cast<double>(cell(i).turns) / cell(i).turning_frames / turns_per_frame - 1.0);
      mean_departure += departures_.back() * static_cast<double>(cell(i).frames) / frames;
    }
    for (double& d : departures_) d -= mean_departure;
  }

  std::size_t size() const { return range_.size(); }
  double k() const { return k_; }
  const Cell& cell(std::size_t i) const { return cells_.cell(range_.begin + i); }
  double span_frames() const { return cell(size() - 1).end_frame - cell(0).begin_frame; }
  double span_turns() const { return (cell(size() - 1).begin_angle_rad - cell(0).begin_angle_rad) / turn_rad + 1.0; }

  /// Columns of a component's real amplitude and of its quadrature, at row i: a·column + b·quadrature for a + jb.
  std::pair<Complex, Complex> columns_of(std::size_t i, const Component& c) const {
    const Complex plus = sum_over(cell(i), k_ - c.order, c.cycles_per_frame);
    const Complex minus = sum_over(cell(i), k_ + c.order, -c.cycles_per_frame);
    const double root = std::sqrt(static_cast<double>(cell(i).frames));
    return {0.5 * (plus + minus) / root, Complex(0.0, 0.5) * (plus - minus) / root};
  }
  /// How the component changes per cycle over the spin.
  Complex change_of(std::size_t i, const Component& c) const {
    constexpr double h = 0.01;
    const auto at = [&](double cycles) {
      Component moved = c;
      if (c.order > 0.0) moved.order += cycles / span_turns();
      if (c.order <= 0.0) moved.cycles_per_frame += cycles / span_frames();
      const auto [a, b] = columns_of(i, moved);
      return c.value.real() * a + c.value.imag() * b;
    };
    return (at(h) - at(-h)) / (2.0 * h);
  }
  std::pair<Complex, Complex> order_columns(std::size_t i) const {
    const Complex twice = cells_.phasor_sum(range_.begin + i, 2 * k_);
    const double n = static_cast<double>(cell(i).frames);
    return {0.5 * (n + twice) / std::sqrt(n), Complex(0.0, 0.5) * (n - twice) / std::sqrt(n)};
  }
  double departure(std::size_t i) const { return departures_[i]; }
  double time(std::size_t i) const { return 2.0 * (static_cast<double>(i) + 0.5) / static_cast<double>(size()) - 1.0; }

 private:
  const Cells& cells_;
  CellRange range_;
  double k_;
  std::vector<double> departures_;  // relative speed, mean taken off

 public:
  std::vector<Complex> rows;     // residual of Σ x e^{jkθ} over √frames
  std::vector<double> energies;  // variance within the cell: a baseline that wanders is no knock
  std::vector<double> weights;
};

/// Normal equations, filled a complex row at a time.
struct Normal {
  explicit Normal(Eigen::Index columns)
      : gram(Eigen::MatrixXd::Zero(columns, columns)), right(Eigen::VectorXd::Zero(columns)) {}
  void add(const std::vector<Complex>& columns, Complex value, double weight) {
    for (std::size_t a = 0; a < columns.size(); ++a) {
      const auto row = static_cast<Eigen::Index>(a);
      right(row) += weight * (std::conj(columns[a]) * value).real();
      for (std::size_t b = a; b < columns.size(); ++b) {
        gram(row, static_cast<Eigen::Index>(b)) += weight * (std::conj(columns[a]) * columns[b]).real();
      }
    }
    square += weight * std::norm(value);
  }
  void solve() {
    gram.triangularView<Eigen::StrictlyLower>() = gram.transpose();
    solution = gram.ldlt().solve(right);
    rest = square - right.dot(solution);
  }
  Eigen::MatrixXd gram;
  Eigen::VectorXd right;
  Eigen::VectorXd solution;
  double square = 0.0;
  double rest = 0.0;
};

/// The columns of row i: δZ, slope, each component and how it changes with its place. They are put into `columns`,
/// which a caller keeps from row to row.
void columns_of(const Problem& p, std::size_t i, const std::vector<Component>& beside, std::vector<Complex>& columns) {
  const auto [a, b] = p.order_columns(i);
  columns.assign({a, b, p.departure(i) * a, p.departure(i) * b});
  for (const Component& c : beside) {
    const auto [cosine, sine] = p.columns_of(i, c);
    columns.insert(columns.end(), {cosine, sine, p.change_of(i, c)});
  }
}

/// The normal equations, solved, and what the rows keep.
struct Solved {
  Normal normal;
  std::vector<Complex> rest;
};

Solved fit_along(const Problem& p, const std::vector<Component>& beside) {
  Solved solved{Normal(static_cast<Eigen::Index>(4 + 3 * beside.size())), p.rows};
  std::vector<std::vector<Complex>> rows(p.size());
  for (std::size_t i = 0; i < p.size(); ++i) {
    columns_of(p, i, beside, rows[i]);
    solved.normal.add(rows[i], p.rows[i], p.weights[i]);
  }
  solved.normal.solve();
  for (std::size_t i = 0; i < p.size(); ++i) {
    for (std::size_t c = 0; c < rows[i].size(); ++c)
      solved.rest[i] -= solved.normal.solution(static_cast<Eigen::Index>(c)) * rows[i][c];
  }
  return solved;
}

/// Squared distance of each residual from zero in its own spread, so that pure noise gives an exponential distribution
/// of mean 1. The spread is that of the two parts together: noise that falls with frequency drifts within a turn, which
/// a sine sees and a cosine does not.
std::vector<double> distances(const std::vector<Complex>& rest, double floor) {
  Eigen::Matrix2d spread = Eigen::Matrix2d::Identity();
  std::vector<double> squares(rest.size());
  for (int pass = 0; pass < 3; ++pass) {
    const Eigen::Matrix2d inverse = spread.inverse();
    for (std::size_t i = 0; i < rest.size(); ++i) {
      const Eigen::Vector2d r(rest[i].real(), rest[i].imag());
      squares[i] = 0.5 * r.dot(inverse * r);
    }
    const double scale = median_of(squares) / std::log(2.0);
    const double limit = pass == 0 ? 4.0 : 8.0;
    Eigen::Matrix2d sum = Eigen::Matrix2d::Zero();
    for (std::size_t i = 0; i < rest.size(); ++i) {
      const Eigen::Vector2d r(rest[i].real(), rest[i].imag());
      if (squares[i] <= limit * scale) sum += r * r.transpose();
    }
    spread = sum / static_cast<double>(rest.size()) + floor * Eigen::Matrix2d::Identity();
    if (scale > 0.0) {
      for (double& s : squares) s /= scale;
    }
  }
  return squares;
}

void weigh(Problem& p, const std::vector<Complex>& rest) {
  const double energy = median_of(p.energies);
  const std::vector<double> squares = distances(rest, rounding_power * energy + 1e-300);
  const double limit = knocked_residual * (1.0 + few_turns_more / static_cast<double>(p.size()));
  for (std::size_t i = 0; i < p.size(); ++i) {
    const bool is_rounding = std::norm(rest[i]) < knocked_residual * rounding_power * energy;
    const double by_residual = squares[i] > limit && !is_rounding ? limit / squares[i] : 1.0;
    const double by_energy = p.energies[i] > knocked_energy * energy ? energy / p.energies[i] : 1.0;
    p.weights[i] = by_residual * by_energy;
  }
}

/// How much less a vector is known because components of unknown place are fitted along.
double inflation(const Normal& normal) {
  if (normal.gram.rows() <= 4) return 1.0;
  // columns of very different size: scale before inverting
  const Eigen::VectorXd scale = normal.gram.diagonal().array().max(1e-300).rsqrt();
  Eigen::MatrixXd gram = scale.asDiagonal() * normal.gram * scale.asDiagonal();
  gram.diagonal().array() += 1e-12;  // a speed that does not change at all
  const Eigen::MatrixXd inverse = gram.inverse();
  return std::max(1.0, 0.5 * (inverse(0, 0) + inverse(1, 1)));
}

/// Those near enough to matter to the order, and far enough to be told from it.
std::vector<Component> near_ones(const Problem& p, const std::vector<Component>& beside) {
  std::vector<Component> near;
  for (const Component& c : beside) {
    const double order = c.order > 0.0 ? c.order : c.cycles_per_frame * p.span_frames() / p.span_turns();
    if (std::abs(order - p.k()) < within_orders) near.push_back(c);
  }
  return near;
}

}  // namespace

JointFit plain_fit(const Cells& cells, CellRange range, std::size_t sensor, std::size_t order, const OrderFit& start) {
  JointFit fit;
  fit.value = start.orders[order];
  const MeanUncertainty mean = uncertainty_of_mean(demodulated_residual(cells, range, sensor, order, start));
  fit.covariance = mean.covariance;
  fit.noise_rise = mean.rise;
  fit.weights.assign(range.size(), 1.0);
  return fit;
}

JointFit fit_jointly(const Cells& cells, CellRange range, std::size_t sensor, std::size_t order, const OrderFit& start,
                     const std::vector<Component>& beside) {
  if (range.size() < least_cells) return plain_fit(cells, range, sensor, order, start);
  JointFit fit;
  fit.value = start.orders[order];
  Problem p(cells, range, sensor, order, start);
  const std::vector<Component> near = near_ones(p, beside);
  Solved solved = fit_along(p, near);
  for (int pass = 0; pass < most_passes; ++pass) {
    const std::vector<double> before = p.weights;
    weigh(p, solved.rest);
    if (p.weights == before) break;
    solved = fit_along(p, near);
  }
  const auto& [normal, rest] = solved;
  const bool disturbed = !near.empty() || *std::min_element(p.weights.begin(), p.weights.end()) < 1.0;
  if (disturbed) fit.value += Complex(normal.solution(0), normal.solution(1));
  fit.slope = {normal.solution(2), normal.solution(3)};
  if (normal.gram(2, 2) > 0.0)
    fit.u_slope = std::sqrt(normal.rest / (2.0 * static_cast<double>(p.size())) / normal.gram(2, 2));
  fit.weights = p.weights;
  std::vector<Complex> series = rest;
  double weight_frames = 0.0;
  for (std::size_t i = 0; i < p.size(); ++i) weight_frames += p.weights[i] * static_cast<double>(p.cell(i).frames);
  for (std::size_t i = 0; i < p.size(); ++i) {
    series[i] *= 2.0 * static_cast<double>(p.size()) * p.weights[i] * std::sqrt(static_cast<double>(p.cell(i).frames)) /
                 weight_frames;
  }
  const MeanUncertainty mean = uncertainty_of_mean(series);
  fit.covariance = mean.covariance * inflation(normal);
  fit.noise_rise = mean.rise;
  return fit;
}

}  // namespace counterspot
