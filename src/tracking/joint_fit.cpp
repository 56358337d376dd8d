#include "tracking/joint_fit.hpp"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>

#include "tracking/median.hpp"
#include "tracking/spectrum.hpp"

namespace counterspot {
namespace {

using Complex = std::complex<double>;

constexpr std::size_t least_cells = 24;
constexpr std::size_t most_lines = 3;
constexpr double least_peak = 18.0;        // of the mean noise beside it; exp(−18) a bin in pure noise
constexpr double least_cycles = 1.2;       // between line and order over the spin
constexpr double knocked_residual = 16.0;  // of the mean square; exp(−16) a turn in pure noise
constexpr double few_turns_more = 25.0;    // the spread of n turns is itself uncertain: (1 + 25/n) times that
constexpr double knocked_energy = 6.0;     // of the median
constexpr int most_passes = 4;
constexpr double rounding_power = 1e-12;  // of the signal's: what lies below is arithmetic, not noise
constexpr double least_line =
    0.01;  // of the order itself: less is what a sampled tach edge does to it, and does no harm

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
      Complex plain = cells.sum(range.begin + i, sensor) - start.dc * static_cast<double>(cell.frames);
      for (std::size_t l = 0; l < orders.size(); ++l) {
        rest -= 0.5 * (start.orders[l] * cells.phasor_sum(range.begin + i, k_ - orders[l]) +
                       std::conj(start.orders[l]) * cells.phasor_sum(range.begin + i, k_ + orders[l]));
        plain -= (start.orders[l] * std::conj(cells.phasor_sum(range.begin + i, orders[l]))).real();
      }
      const double root = std::sqrt(static_cast<double>(cell.frames));
      rows.push_back(rest / root);
      plain_rows.push_back(plain.real() / root);
      const double n = static_cast<double>(cell.frames);
      const double mean = cells.sum(range.begin + i, sensor) / n;
      energies.push_back(std::max(0.0, cells.square(range.begin + i, sensor) / n - mean * mean));
      frames += static_cast<double>(cell.frames);
      turning += cell.turning_frames;
      turns += static_cast<double>(cell.turns);
    }
    order_amplitude = std::abs(start.orders[order]);
    mean_frames = frames / static_cast<double>(size());
    turns_per_frame = turns / turning;
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

  /// Σ_n e^{jmθ} e^{−j2πfn} over cell i.
  Complex line_sum(std::size_t i, double m, double cycles_per_frame) const {
    const Cell& c = cell(i);
    const double step = turn_rad * static_cast<double>(c.turns) / c.turning_frames;
    const double first = std::ceil(c.begin_frame);
    const double angle =
        m * (c.begin_angle_rad + step * (first - c.begin_frame)) - turn_rad * std::fmod(cycles_per_frame * first, 1.0);
    return sum_of_phasors(1.0, angle, m * step - turn_rad * cycles_per_frame, static_cast<double>(c.frames));
  }

  /// Columns of a real amplitude and of a quadrature one, at row i: a·column + b·quadrature for the value a + jb.
  std::pair<Complex, Complex> line_columns(std::size_t i, double m, double f) const {
    const Complex plus = line_sum(i, m, f);
    const Complex minus = line_sum(i, m, -f);
    const double root = std::sqrt(static_cast<double>(cell(i).frames));
    return {0.5 * (plus + minus) / root, Complex(0.0, 0.5) * (plus - minus) / root};
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
  std::vector<Complex> rows;       // residual of Σ x e^{jkθ} over √frames
  std::vector<double> plain_rows;  // of Σ x over √frames
  std::vector<double> energies;    // variance within the cell: a baseline that wanders is no knock
  std::vector<double> weights;
  double order_amplitude = 0.0;  // as ordinary least squares has it
  double mean_frames = 0.0;
  double turns_per_frame = 0.0;
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

enum class Trend { none, quadratic };

/// The columns of row i: δZ, slope, each line (and how it changes with its frequency, if asked), a trend if asked.
/// They are put into `columns`, which a caller keeps from row to row.
void columns_of(const Problem& p, std::size_t i, const std::vector<double>& frequencies, Trend trend,
                std::vector<Complex>& columns) {
  const auto [a, b] = p.order_columns(i);
  columns.assign({a, b, p.departure(i) * a, p.departure(i) * b});
  for (const double f : frequencies) {
    const auto [c, s] = p.line_columns(i, p.k(), f);
    columns.push_back(c);
    columns.push_back(s);
  }
  if (trend == Trend::quadratic) {
    for (const double t : {p.time(i), p.time(i) * p.time(i)}) {
      columns.push_back(t * a);
      columns.push_back(t * b);
    }
  }
}

Normal solve(const Problem& p, const std::vector<double>& frequencies, Trend trend = Trend::none) {
  Normal normal(static_cast<Eigen::Index>(4 + 2 * frequencies.size() + (trend == Trend::none ? 0 : 4)));
  std::vector<Complex> columns;
  for (std::size_t i = 0; i < p.size(); ++i) {
    columns_of(p, i, frequencies, trend, columns);
    normal.add(columns, p.rows[i], p.weights[i]);
  }
  normal.solve();
  return normal;
}

/// The normal equations, solved, and what the rows keep.
struct Solved {
  Normal normal;
  std::vector<Complex> rest;
};

Solved fit_along(const Problem& p, const std::vector<double>& frequencies) {
  Solved solved{solve(p, frequencies), p.rows};
  std::vector<Complex> columns;
  for (std::size_t i = 0; i < p.size(); ++i) {
    columns_of(p, i, frequencies, Trend::none, columns);
    for (std::size_t c = 0; c < columns.size(); ++c)
      solved.rest[i] -= solved.normal.solution(static_cast<Eigen::Index>(c)) * columns[c];
  }
  return solved;
}

/// Least squares in one frequency, the others fixed: golden section over ± 0.6 cycles in the spin.
void refine(const Problem& p, std::vector<double>& frequencies, std::size_t which) {
  const double golden = 0.5 * (std::sqrt(5.0) - 1.0);
  const auto cost = [&](double f) {
    frequencies[which] = f;
    return solve(p, frequencies).rest;
  };
  double low = frequencies[which] - 0.6 / p.span_frames();
  double high = frequencies[which] + 0.6 / p.span_frames();
  double a = high - golden * (high - low);
  double b = low + golden * (high - low);
  double cost_a = cost(a);
  double cost_b = cost(b);
  for (int step = 0; step < 28; ++step) {
    if (cost_a < cost_b) {
      high = b;
      b = a;
      cost_b = cost_a;
      a = high - golden * (high - low);
      cost_a = cost(a);
    } else {
      low = a;
      a = b;
      cost_a = cost_b;
      b = low + golden * (high - low);
      cost_b = cost(b);
    }
  }
  frequencies[which] = 0.5 * (low + high);
}

/// Of the frequencies that turn by the same fraction of a turn from cell to cell, the one that explains the cells' Σ x
/// as well.
double best_alias(const Problem& p, const std::vector<Complex>& rest, double cycles_per_cell) {
  const double turns_per_cell = static_cast<double>(p.cell(0).turns);
  double noise = 0.0;
  double plain_noise = 0.0;
  for (std::size_t i = 0; i < p.size(); ++i) {
    noise += std::norm(rest[i]);
    plain_noise += p.plain_rows[i] * p.plain_rows[i];
  }
  double best = 0.0;
  double best_cost = 1e300;
  const int reach = static_cast<int>(turns_per_cell * (p.k() + 3.0));
  for (int m = -2 * reach; m <= reach; ++m) {
    const double f = std::abs(p.k() - (cycles_per_cell + m) / turns_per_cell) * p.turns_per_frame;
    if (f < 1e-9 || f > 0.5 || f > (p.k() + 3) * p.turns_per_frame) continue;
    Normal normal(2);
    for (std::size_t i = 0; i < p.size(); ++i) {
      const auto [c, s] = p.line_columns(i, p.k(), f);
      normal.add({c, s}, rest[i], p.weights[i] / noise);
      const auto [plain_c, plain_s] = p.line_columns(i, 0, f);
      normal.add({plain_c.real(), plain_s.real()}, p.plain_rows[i], p.weights[i] / plain_noise);
    }
    normal.solve();
    if (normal.rest < best_cost) {
      best_cost = normal.rest;
      best = f;
    }
  }
  return best;
}

/// A whole order that is not fitted along leaks into one that is no whole number, and looks like a line.
bool turns_with_shaft(const Problem& p, double cycles_per_frame) {
  const double order = cycles_per_frame / p.turns_per_frame;
  return p.k() != std::round(p.k()) &&
         std::abs(order - std::round(order)) * p.turns_per_frame * p.span_frames() < least_cycles;
}

/// The strongest line in the residual, if there is one that is no trend; 0 if not.
double find_line(const Problem& p, const std::vector<double>& frequencies, const std::vector<Complex>& rest) {
  std::vector<Complex> weighted = rest;
  for (std::size_t i = 0; i < rest.size(); ++i) weighted[i] *= p.weights[i];
  const double energy = median_of(p.energies);
  const auto peak = strongest_peak(weighted, least_cycles, rounding_power * energy * static_cast<double>(p.size()));
  if (!peak || peak->over_noise < least_peak) return 0.0;
  std::vector<double> with = frequencies;
  with.push_back(best_alias(p, rest, peak->cycles_per_value));
  if (with.back() == 0.0 || turns_with_shaft(p, with.back())) return 0.0;
  refine(p, with, with.size() - 1);
  const Normal normal = solve(p, with);
  const double amplitude = normal.solution.tail<2>().norm();
  if (amplitude < least_line * p.order_amplitude) return 0.0;
  return normal.rest < solve(p, frequencies, Trend::quadratic).rest ? with.back() : 0.0;
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
    const bool rounding = std::norm(rest[i]) < knocked_residual * rounding_power * energy;
    const double by_residual = squares[i] > limit && !rounding ? limit / squares[i] : 1.0;
    const double by_energy = p.energies[i] > knocked_energy * energy ? energy / p.energies[i] : 1.0;
    p.weights[i] = by_residual * by_energy;
  }
}

/// How much less a vector is known because lines of unknown frequency are fitted along.
double inflation(const Problem& p, const std::vector<double>& frequencies, const Normal& normal) {
  if (frequencies.empty()) return 1.0;
  const auto lines = static_cast<Eigen::Index>(frequencies.size());
  Normal full(4 + 3 * lines);
  std::vector<Complex> columns;
  for (std::size_t i = 0; i < p.size(); ++i) {
    columns_of(p, i, frequencies, Trend::none, columns);
    const double h = 0.01 / p.span_frames();
    for (std::size_t l = 0; l < frequencies.size(); ++l) {
      const auto index = static_cast<Eigen::Index>(4 + 2 * l);
      const auto [c1, s1] = p.line_columns(i, p.k(), frequencies[l] + h);
      const auto [c0, s0] = p.line_columns(i, p.k(), frequencies[l] - h);
      columns.push_back(normal.solution(index) * (c1 - c0) + normal.solution(index + 1) * (s1 - s0));
    }
    full.add(columns, p.rows[i], p.weights[i]);
  }
  full.solve();
  // columns of very different size: scale before inverting
  const Eigen::VectorXd scale = full.gram.diagonal().cwiseSqrt().cwiseInverse();
  const Eigen::MatrixXd inverse = (scale.asDiagonal() * full.gram * scale.asDiagonal()).inverse();
  return std::max(1.0, 0.5 * (inverse(0, 0) + inverse(1, 1)));
}

}  // namespace

JointFit plain_fit(const Cells& cells, CellRange range, std::size_t sensor, std::size_t order, const OrderFit& start) {
  JointFit fit;
  fit.value = start.orders[order];
  fit.covariance = covariance_of_mean(demodulated_residual(cells, range, sensor, order, start));
  fit.weights.assign(range.size(), 1.0);
  return fit;
}

JointFit fit_jointly(const Cells& cells, CellRange range, std::size_t sensor, std::size_t order,
                     const OrderFit& start) {
  if (range.size() < least_cells) return plain_fit(cells, range, sensor, order, start);
  JointFit fit;
  fit.value = start.orders[order];
  Problem p(cells, range, sensor, order, start);
  std::vector<double> frequencies;
  Solved solved = fit_along(p, frequencies);
  for (int pass = 0; pass < most_passes; ++pass) {
    const std::vector<double> before = p.weights;
    weigh(p, solved.rest);
    if (p.weights != before) solved = fit_along(p, frequencies);
    const double line = frequencies.size() < most_lines ? find_line(p, frequencies, solved.rest) : 0.0;
    if (line > 0.0) {
      frequencies.push_back(line);
      for (std::size_t l = 0; frequencies.size() > 1 && l < frequencies.size(); ++l) refine(p, frequencies, l);
      solved = fit_along(p, frequencies);
    } else if (p.weights == before) {
      break;
    }
  }
  const auto& [normal, rest] = solved;
  const bool disturbed = !frequencies.empty() || *std::min_element(p.weights.begin(), p.weights.end()) < 1.0;
  if (disturbed) fit.value += Complex(normal.solution(0), normal.solution(1));
  fit.slope = {normal.solution(2), normal.solution(3)};
  for (std::size_t l = 0; l < frequencies.size(); ++l) {
    const auto index = static_cast<Eigen::Index>(4 + 2 * l);
    fit.lines.push_back({frequencies[l], {normal.solution(index), normal.solution(index + 1)}});
  }
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
  fit.covariance = covariance_of_mean(series) * inflation(p, frequencies, normal);
  return fit;
}

}  // namespace counterspot
