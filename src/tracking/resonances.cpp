#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <Eigen/QR>
#include <algorithm>
#include <cmath>
#include <complex>
#include <numeric>

#include "counterspot/tracking/sweep.hpp"
#include "tracking/circle_fit.hpp"
#include "tracking/swept_mode.hpp"

namespace counterspot {
namespace {

using Complex = std::complex<double>;
using Eigen::Index;

constexpr std::size_t fewest_turns_fitted = 24;
constexpr std::size_t most_resonances = 6;
constexpr std::size_t most_misses = 3;
constexpr double least_evidence = 30.0;  // gain of a mode over the mean square of the rest; noise alone stays under 20
constexpr double least_share = 0.05;     // of what the sensor shows near it
constexpr double lags_of_turns = 3.0;    // times the cube root of their number
constexpr double rounding_part = 1e-7;   // of the vectors: less is no misfit

struct TriedMode {
  double natural = 0.0;  // rad/s
  double damping = 0.0;
};

/// Turns, or several neighbours at one speed as one.
struct SweptCells {
  SweptSpeeds sweep;
  Eigen::MatrixXcd vectors;  // a column for each sensor
  Eigen::VectorXd weights;   // time that each covers
  Motion motion = Motion::displacement;
  double slowest = 1e300;
  double fastest = 0.0;

  Eigen::VectorXcd response(const TriedMode& mode, std::span<const Index> wanted) const {
    return swept_response(sweep, mode.natural, mode.damping, motion, wanted);
  }
};

constexpr std::size_t turns_kept_single = 4000;
constexpr double one_speed = 5e-4;

SweptCells swept_cells(std::span<const SweptTurn> turns, Motion motion) {
  SweptCells cells;
  cells.motion = motion;
  const std::size_t sensors = turns.front().vectors.size();
  std::vector<std::vector<Complex>> sums;
  std::vector<double> weights;
  std::vector<double> durations;
  const double same = turns.size() > turns_kept_single ? one_speed : 0.0;
  double end_s = -1e300;
  for (const SweptTurn& turn : turns) {
    const double duration_s = turn_rad / turn.speed_rad_s;
    const bool begins = turn.time_s - end_s > duration_s;
    end_s = turn.time_s + 0.5 * duration_s;
    SweptSpeeds& s = cells.sweep;
    if (begins || std::abs(turn.speed_rad_s / s.speeds_rad_s.back() - 1.0) >= same) {
      s.times_s.push_back(0.0);
      s.speeds_rad_s.push_back(0.0);
      s.begins.push_back(begins);
      sums.emplace_back(sensors);
      weights.push_back(0.0);
      durations.push_back(0.0);
    }
    const double before = durations.back();
    durations.back() += duration_s;
    const double share = duration_s / durations.back();
    s.times_s.back() += share * (turn.time_s - s.times_s.back());
    s.speeds_rad_s.back() += share * (turn.speed_rad_s - s.speeds_rad_s.back());
    if (before == 0.0) s.times_s.back() = turn.time_s, s.speeds_rad_s.back() = turn.speed_rad_s;
    for (std::size_t k = 0; k < sensors; ++k) sums.back()[k] += turn.weight * duration_s * turn.vectors[k];
    weights.back() += turn.weight * duration_s;
    cells.slowest = std::min(cells.slowest, turn.speed_rad_s);
    cells.fastest = std::max(cells.fastest, turn.speed_rad_s);
  }
  const auto n = sums.size();
  cells.vectors = Eigen::MatrixXcd::Zero(static_cast<Index>(n), static_cast<Index>(sensors));
  cells.weights.resize(static_cast<Index>(n));
  for (std::size_t i = 0; i < n; ++i) {
    cells.weights(static_cast<Index>(i)) = weights[i];
    for (std::size_t k = 0; weights[i] > 0.0 && k < sensors; ++k)
      cells.vectors(static_cast<Index>(i), static_cast<Index>(k)) = sums[i][k] / weights[i];
  }
  SweptSpeeds& s = cells.sweep;
  s.rates_rad_s2.assign(n, 0.0);
  for (std::size_t i = 0; i < n; ++i) {
    const std::size_t before = s.begins[i] ? i : i - 1;
    const std::size_t after = i + 1 < n && !s.begins[i + 1] ? i + 1 : i;
    if (after > before)
      s.rates_rad_s2[i] = (s.speeds_rad_s[after] - s.speeds_rad_s[before]) / (s.times_s[after] - s.times_s[before]);
  }
  return cells;
}

/// Speeds around a resonance that its fit uses.
struct SpeedWindow {
  double from = 0.0;
  double to = 0.0;
  double middle() const { return 0.5 * (from + to); }
  double half() const { return 0.5 * (to - from); }
  bool holds(double speed) const { return speed >= from && speed <= to; }
};

/// Speed gained a second where this speed is passed, the largest if several times.
double rate_at(const SweptCells& cells, double speed) {
  double largest = 0.0;
  for (std::size_t i = 0; i < cells.sweep.size(); ++i) {
    if (std::abs(cells.sweep.speeds_rad_s[i] / speed - 1.0) < 0.03)
      largest = std::max(largest, std::abs(cells.sweep.rates_rad_s2[i]));
  }
  return largest;
}

/// Wide enough for the flanks of the resonance, or of what a fast sweep makes of it.
SpeedWindow window_of(const SweptCells& cells, const TriedMode& mode, double part = 1.0) {
  const double hasty = 6.0 * std::sqrt(rate_at(cells, mode.natural)) / mode.natural;
  const double reach = part * std::clamp(std::max(8.0 * mode.damping, hasty), 0.15, 0.45);
  return {mode.natural * (1.0 - reach), mode.natural * (1.0 + reach)};
}

/// What is no resonance near: a polynomial in the speed, of the motion of an unbalance that nothing magnifies; `scale`
/// times its first powers fill a row.
template <typename Row>
void fill_ground(const SpeedWindow& window, double speed, double scale, Motion motion, Row&& row) {
  const int derivatives = motion == Motion::displacement ? 0 : motion == Motion::velocity ? 1 : 2;
  double value = scale * std::pow(speed / window.middle(), 2 + derivatives);
  for (Index power = 0; power < row.size(); ++power, value *= (speed - window.middle()) / window.half())
    row(power) = value;
}

/// Modes whose ω_n and ζ are sought, and others whose strengths alone are free, in one window. All sensors show the
/// same modes, each in its own strength; each weighs by what it leaves of itself: the most likely fit for noise whose
/// size at each sensor is not known makes Σ ln rest_s least.
class ModeFit {
 public:
  ModeFit(const SweptCells& cells, const SpeedWindow& window, std::vector<TriedMode> modes,
          const std::vector<TriedMode>& known)
      : cells_(cells), window_(window), modes_(std::move(modes)) {
    for (std::size_t i = 0; i < cells.sweep.size(); ++i) {
      if (window.holds(cells.sweep.speeds_rad_s[i]) && cells.weights(static_cast<Index>(i)) > 0.0)
        rows_.push_back(static_cast<Index>(i));
    }
    const auto count = static_cast<Index>(rows_.size());
    weights_ = cells.weights(rows_).cwiseSqrt();
    vectors_ = weights_.asDiagonal() * cells.vectors(rows_, Eigen::all);
    const auto powers = static_cast<Index>(2 + modes_.size());
    fixed_.resize(count, powers + static_cast<Index>(known.size()));
    for (Index r = 0; r < count; ++r) {
      const double speed = cells.sweep.speeds_rad_s[static_cast<std::size_t>(rows_[static_cast<std::size_t>(r)])];
      fill_ground(window, speed, weights_(r), cells.motion, fixed_.row(r).head(powers));
    }
    for (std::size_t k = 0; k < known.size(); ++k) fixed_.col(powers + static_cast<Index>(k)) = column(known[k]);
    if (usable()) project();
  }

  bool usable() const {
    return rows_.size() >= fewest_turns_fitted && static_cast<Index>(rows_.size()) > 3 * (columns() + parameters());
  }
  const std::vector<TriedMode>& modes() const { return modes_; }
  std::size_t turns() const { return rows_.size(); }
  /// Σ of ln mean square; smaller is better, also of another window.
  double misfit() const { return mean_squares().array().log().sum(); }

  /// Gauss–Newton in (ln ω_n, ln ζ), steps halved until they help. Ends where the first mode is no resonance any more.
  void refine(int most_moves = 40) {
    for (int i = 0; i < most_moves && modes_.front().damping < 0.4 && window_.holds(modes_.front().natural); ++i) {
      linearise();
      const Eigen::VectorXd move = -gram_.ldlt().solve(slope_);
      if (!move.allFinite()) return;
      double largest = 1e-300;
      for (Index k = 0; k < move.size(); ++k)
        largest = std::max(largest, std::abs(move(k)) * (k % 2 == 0 ? 20.0 : 1.5));
      double share = std::min(1.0, 1.0 / largest);
      if (!step(move, share) || share * largest < 1e-7) return;
    }
  }

  /// Covariance of (ln ω_n, ln ζ) of every mode, for residuals that are correlated from turn to turn and from sensor to
  /// sensor, and that a mode far away or run-out leaves in part (Newey & West 1987, Econometrica 55, 703, from memory).
  Eigen::MatrixXd covariance() {
    linearise();
    const Index n = residual_.rows();
    const Eigen::VectorXd mean = mean_squares();
    Eigen::MatrixXd pull = Eigen::MatrixXd::Zero(n, parameters());  // of each turn on each parameter
    for (Index s = 0; s < sensors(); ++s) {
      if (rest_(s) <= 0.0) continue;
      const double for_parameters = std::sqrt(2.0 * static_cast<double>(n) / mean(s) / rest_(s));
      for (Index k = 0; k < parameters(); ++k)
        pull.col(k) +=
            for_parameters * own_[static_cast<std::size_t>(s)].col(k).conjugate().cwiseProduct(residual_.col(s)).real();
    }
    const auto lags = static_cast<Index>(lags_of_turns * std::cbrt(static_cast<double>(n)));
    Eigen::MatrixXd sum = pull.transpose() * pull;
    for (Index lag = 1; lag <= lags; ++lag) {
      const Eigen::MatrixXd shifted = pull.topRows(n - lag).transpose() * pull.bottomRows(n - lag);
      sum += (1.0 - static_cast<double>(lag) / static_cast<double>(lags + 1)) * (shifted + shifted.transpose());
    }
    const Eigen::MatrixXd inverse = gram_.inverse();  // the covariance itself, were the residuals white
    Eigen::MatrixXd covariance = inverse * sum * inverse;
    covariance.diagonal() = covariance.diagonal().cwiseMax(inverse.diagonal());
    return covariance;
  }

  /// What the fit leaves to the first mode of what a sensor measured, brought to the steady state; beside the speeds.
  std::vector<SteadyPoint> left_to_first(Index sensor, double within_rad_s) const {
    std::vector<SteadyPoint> points;
    const TriedMode& mode = modes_.front();
    const Index own = fixed_.cols();
    const Eigen::VectorXcd measured = residual_.col(sensor) + basis_.col(own) * solution_(own, sensor);
    for (std::size_t r = 0; r < rows_.size(); ++r) {
      const double speed = cells_.sweep.speeds_rad_s[static_cast<std::size_t>(rows_[r])];
      if (std::abs(speed - mode.natural) > within_rad_s) continue;
      const auto row = static_cast<Index>(r);
      const Complex swept = basis_(row, own);
      points.push_back(
          {speed, measured(row) / swept * steady_response(speed, mode.natural, mode.damping, cells_.motion)});
    }
    return points;
  }

  /// How much of what a sensor measures around its peak a mode makes.
  double share_of(std::size_t mode, Index sensor) const {
    const Index own = fixed_.cols() + static_cast<Index>(mode);
    const Eigen::VectorXd unweighted = weights_.cwiseInverse();
    const double largest = vectors_.col(sensor).cwiseAbs().cwiseProduct(unweighted).maxCoeff();
    if (largest <= 0.0) return 0.0;
    return std::abs(solution_(own, sensor)) * basis_.col(own).cwiseAbs().cwiseProduct(unweighted).maxCoeff() / largest;
  }
  double largest_share_of(std::size_t mode) const {
    double largest = 0.0;
    for (Index s = 0; s < sensors(); ++s) largest = std::max(largest, share_of(mode, s));
    return largest;
  }

 private:
  Index columns() const { return fixed_.cols() + static_cast<Index>(modes_.size()); }
  Index parameters() const { return 2 * static_cast<Index>(modes_.size()); }
  Index sensors() const { return vectors_.cols(); }

  Eigen::VectorXd mean_squares() const {
    const double each = 2.0 * static_cast<double>(static_cast<Index>(rows_.size()) - columns()) -
                        static_cast<double>(parameters()) / static_cast<double>(sensors());
    const Eigen::VectorXd rounded = rounding_part * rounding_part * vectors_.colwise().squaredNorm().transpose();
    const Eigen::VectorXd mean = rest_.cwiseMax(rounded) / each;
    return (mean.array() > 0.0).select(mean, 1.0);  // a sensor that shows nothing at all has no say
  }
  Eigen::VectorXcd column(const TriedMode& mode) const { return weights_.cwiseProduct(cells_.response(mode, rows_)); }

  void project() {
    basis_.resize(fixed_.rows(), columns());
    basis_.leftCols(fixed_.cols()) = fixed_;
    for (std::size_t k = 0; k < modes_.size(); ++k)
      basis_.col(fixed_.cols() + static_cast<Index>(k)) = column(modes_[k]);
    orthogonal_.compute(basis_);
    solution_ = orthogonal_.solve(vectors_);
    residual_ = vectors_ - basis_ * solution_;
    rest_ = residual_.colwise().squaredNorm().transpose();
  }

  /// Kaufman's form of variable projection (1975, BIT 15): the derivative of a column times its strength, less what the
  /// other columns can make of it.
  void linearise() {
    constexpr double h = 1e-5;
    const Index c = columns();
    Eigen::MatrixXcd change(fixed_.rows(), parameters());  // for a strength of 1
    for (std::size_t k = 0; k < modes_.size(); ++k) {
      const TriedMode& m = modes_[k];
      const auto by = 2 * static_cast<Index>(k);
      change.col(by) = column({m.natural * (1.0 + h), m.damping}) - column({m.natural * (1.0 - h), m.damping});
      change.col(by + 1) = column({m.natural, m.damping * (1.0 + h)}) - column({m.natural, m.damping * (1.0 - h)});
    }
    Eigen::MatrixXcd turned = orthogonal_.householderQ().adjoint() * change;
    turned.topRows(c).setZero();
    const Eigen::MatrixXcd left = orthogonal_.householderQ() * turned;
    const Eigen::VectorXd mean = mean_squares();
    gram_ = Eigen::MatrixXd::Zero(parameters(), parameters());
    slope_ = Eigen::VectorXd::Zero(parameters());
    own_.assign(static_cast<std::size_t>(sensors()), {});
    for (Index s = 0; s < sensors(); ++s) {
      Eigen::MatrixXcd& own = own_[static_cast<std::size_t>(s)];
      own = -left / (2.0 * h);
      for (Index k = 0; k < parameters(); ++k) own.col(k) *= solution_(fixed_.cols() + k / 2, s);
      gram_ += (own.adjoint() * own).real() / mean(s);
      slope_ += (own.adjoint() * residual_.col(s)).real() / mean(s);
    }
  }

  bool step(const Eigen::VectorXd& move, double& share) {
    const std::vector<TriedMode> here = modes_;
    const double misfit_here = misfit();
    for (int half = 0; half < 10; ++half, share *= 0.5) {
      for (std::size_t k = 0; k < here.size(); ++k) {
        const auto by = 2 * static_cast<Index>(k);
        modes_[k].natural = here[k].natural * std::exp(share * move(by));
        modes_[k].damping = std::min(0.9, here[k].damping * std::exp(share * move(by + 1)));
      }
      project();
      if (misfit() <= misfit_here) return true;
    }
    modes_ = here;
    project();
    return false;
  }

  const SweptCells& cells_;
  SpeedWindow window_;
  std::vector<TriedMode> modes_;
  std::vector<Index> rows_;
  Eigen::VectorXd weights_;   // square roots
  Eigen::MatrixXcd vectors_;  // of each sensor
  Eigen::MatrixXcd fixed_;
  Eigen::MatrixXcd basis_;
  Eigen::HouseholderQR<Eigen::MatrixXcd> orthogonal_;
  Eigen::MatrixXcd solution_;
  Eigen::MatrixXcd residual_;
  Eigen::VectorXd rest_;               // of each sensor
  std::vector<Eigen::MatrixXcd> own_;  // derivatives less what the columns can make of them, of each sensor
  Eigen::MatrixXd gram_;
  Eigen::VectorXd slope_;
};

/// Where one more mode explains most: order 1 over equal steps of the speed, and a steady mode tried at each.
class ModeSearch {
 public:
  explicit ModeSearch(const SweptCells& cells) : cells_(cells) {
    const double bins = std::log(cells.fastest / cells.slowest) / step;
    bin_of_.reserve(cells.sweep.size());
    for (const double speed : cells.sweep.speeds_rad_s)
      bin_of_.push_back(static_cast<Index>(std::min(std::floor(bins), std::log(speed / cells.slowest) / step)));
    const auto count = static_cast<Index>(std::floor(bins)) + 1;
    weights_ = Eigen::VectorXd::Zero(count);
    speeds_ = Eigen::VectorXd::Zero(count);
    for (std::size_t i = 0; i < bin_of_.size(); ++i) {
      const double w = cells.weights(static_cast<Index>(i));
      weights_(bin_of_[i]) += w;
      speeds_(bin_of_[i]) += w * cells.sweep.speeds_rad_s[i];
    }
    speeds_ = speeds_.cwiseQuotient(weights_.cwiseMax(1e-300));
    vectors_.resize(count, cells.vectors.cols());
    for (Index s = 0; s < vectors_.cols(); ++s) vectors_.col(s) = binned(cells.vectors.col(s));
  }

  struct Found {
    TriedMode mode;
    double evidence = 0.0;
  };

  /// @param tried speeds near which nothing more is sought.
  Found best(const std::vector<TriedMode>& known, const std::vector<double>& tried) const {
    std::vector<Index> all(bin_of_.size());
    std::iota(all.begin(), all.end(), Index{0});
    std::vector<Eigen::VectorXcd> responses;
    for (const TriedMode& mode : known) responses.push_back(binned(cells_.response(mode, all)));
    Found best;
    for (double natural = cells_.slowest * 1.02; natural < cells_.fastest * 0.99; natural *= 1.0 + apart) {
      const bool done =
          std::any_of(tried.begin(), tried.end(), [&](double t) { return std::abs(natural / t - 1.0) < 2.0 * apart; });
      if (!done) try_at(natural, responses, best);
    }
    return best;
  }

 private:
  static constexpr double step = 0.003;
  static constexpr double apart = 0.015;
  static constexpr double reach = 0.22;

  Eigen::VectorXcd binned(const Eigen::VectorXcd& all) const {
    Eigen::VectorXcd sums = Eigen::VectorXcd::Zero(weights_.size());
    for (std::size_t i = 0; i < bin_of_.size(); ++i)
      sums(bin_of_[i]) += cells_.weights(static_cast<Index>(i)) * all(static_cast<Index>(i));
    return sums.cwiseQuotient(weights_.cwiseMax(1e-300).cast<Complex>());
  }

  void try_at(double natural, const std::vector<Eigen::VectorXcd>& known, Found& best) const {
    const SpeedWindow window{natural * (1.0 - reach), natural * (1.0 + reach)};
    std::vector<Index> rows;
    for (Index i = 0; i < weights_.size(); ++i) {
      if (weights_(i) > 0.0 && window.holds(speeds_(i))) rows.push_back(i);
    }
    const auto count = static_cast<Index>(rows.size());
    const auto others = static_cast<Index>(3 + known.size());
    if (rows.size() < fewest_turns_fitted || count <= others + 4) return;
    Eigen::MatrixXcd basis(count, others);
    Eigen::MatrixXcd y(count, vectors_.cols());
    for (Index r = 0; r < count; ++r) {
      const Index i = rows[static_cast<std::size_t>(r)];
      const double w = std::sqrt(weights_(i));
      fill_ground(window, speeds_(i), w, cells_.motion, basis.row(r).head(3));
      for (std::size_t k = 0; k < known.size(); ++k) basis(r, 3 + static_cast<Index>(k)) = w * known[k](i);
      y.row(r) = w * vectors_.row(i);
    }
    const Eigen::RowVectorXd size = y.colwise().squaredNorm();
    for (Index c = 0; c < others; ++c) {  // orthonormal columns, and y less what they explain
      const double whole = basis.col(c).norm();
      for (Index b = 0; b < c; ++b) basis.col(c) -= basis.col(b) * basis.col(b).dot(basis.col(c));
      const double left = basis.col(c).norm();
      if (left > 1e-6 * whole)
        basis.col(c) /= left;
      else
        basis.col(c).setZero();
      y -= basis.col(c) * (basis.col(c).adjoint() * y);
    }
    Eigen::VectorXcd mode(count);
    for (const double damping : {0.006, 0.02, 0.06}) {
      for (Index r = 0; r < count; ++r) {
        const Index i = rows[static_cast<std::size_t>(r)];
        mode(r) = std::sqrt(weights_(i)) * steady_response(speeds_(i), natural, damping, cells_.motion);
      }
      for (Index c = 0; c < others; ++c) mode -= basis.col(c) * basis.col(c).dot(mode);
      for (Index s = 0; s < y.cols(); ++s) {
        const double gain = std::norm(mode.dot(y.col(s))) / mode.squaredNorm();
        const double rest = std::max(y.col(s).squaredNorm() - gain, rounding_part * rounding_part * size(s));
        const double evidence = gain / rest * static_cast<double>(2 * (count - others - 1));
        if (evidence > best.evidence) best = {{natural, damping}, evidence};
      }
    }
  }

  const SweptCells& cells_;
  std::vector<Index> bin_of_;
  Eigen::VectorXd weights_;
  Eigen::VectorXd speeds_;
  Eigen::MatrixXcd vectors_;
};

/// Others in the window: near ones are sought along, the rest only lend their shape.
ModeFit fit_around(const SweptCells& cells, const TriedMode& mode, const std::vector<TriedMode>& others,
                   double part = 1.0) {
  const SpeedWindow window = window_of(cells, mode, part);
  std::vector<TriedMode> sought = {mode};
  std::vector<TriedMode> known;
  for (const TriedMode& other : others) {
    const double away = std::abs(other.natural - mode.natural) / window.half();
    if (away < 0.7 && sought.size() < 3)
      sought.push_back(other);
    else if (away < 2.0)
      known.push_back(other);
  }
  return {cells, window, std::move(sought), known};
}

/// From where the search found it, and from where the lag behind the change of speed puts it.
std::optional<ModeFit> settled_fit(const SweptCells& cells, const TriedMode& found,
                                   const std::vector<TriedMode>& others) {
  double direction = 0.0;
  for (std::size_t i = 0; i < cells.sweep.size(); ++i) {
    if (std::abs(cells.sweep.speeds_rad_s[i] / found.natural - 1.0) < 0.03) direction += cells.sweep.rates_rad_s2[i];
  }
  const double lag = std::copysign(1.5 * std::sqrt(rate_at(cells, found.natural)), direction);
  constexpr int first_moves = 4;
  std::optional<ModeFit> best;
  for (const TriedMode& start :
       {found, TriedMode{found.natural - lag, found.damping}, TriedMode{found.natural - lag, found.damping / 4.0}}) {
    ModeFit fit = fit_around(cells, start, others);
    if (!fit.usable()) continue;
    fit.refine(first_moves);
    if (!best || fit.misfit() < best->misfit()) best.emplace(std::move(fit));
  }
  if (best) best->refine();
  return best;
}

bool in_range(const SweptCells& cells, const TriedMode& mode) {
  return mode.damping <= 0.2 && mode.damping > 2e-4 && mode.natural * (1.0 - mode.damping) > cells.slowest &&
         mode.natural * (1.0 + mode.damping) < cells.fastest;
}

/// Of half a half-power width ζω, and of ζ: how well modes of viscous damping and a polynomial stand for a rig whose
/// pedestals damp differently. On simulated coast-downs of 40 such rigs the ± holds 97 % with it, and 88 % without.
constexpr double u_model = 0.05;

/// Standard uncertainties of ln ω_n and ln ζ: from the fit, from what the nearer half of the speeds says otherwise, and
/// from the model.
Eigen::Vector2d uncertainties(const SweptCells& cells, ModeFit& fit, const std::vector<TriedMode>& others) {
  Eigen::Vector2d square = fit.covariance().diagonal().head<2>();
  const double of_model = u_model * fit.modes().front().damping;
  ModeFit near = fit_around(cells, fit.modes().front(), others, 0.5);
  if (near.usable()) {
    near.refine();
    const Eigen::Vector2d nearer = near.covariance().diagonal().head<2>();
    const TriedMode& a = fit.modes().front();
    const TriedMode& b = near.modes().front();
    const Eigen::Vector2d gap(std::log(a.natural / b.natural), std::log(a.damping / b.damping));
    square += (gap.cwiseAbs2() - 4.0 * (nearer - square).cwiseMax(0.0)).cwiseMax(0.0);
  }
  return (square + Eigen::Vector2d(of_model * of_model, u_model * u_model)).cwiseSqrt();
}

constexpr double most_of_speed = 0.03;  // the ± of what is worth saying
constexpr double most_of_damping = 0.60;

bool earned(const Eigen::Vector2d& u) {
  return u.allFinite() && 2.0 * u(0) <= most_of_speed && 2.0 * u(1) <= most_of_damping;
}

std::vector<TriedMode> all_but(const std::vector<TriedMode>& modes, std::size_t k) {
  std::vector<TriedMode> rest = modes;
  rest.erase(rest.begin() + static_cast<std::ptrdiff_t>(k));
  return rest;
}

/// Nearer than half their half-power widths: what one model does not fit of one mode, and no other mode.
bool are_one(const TriedMode& a, const TriedMode& b) {
  return std::abs(a.natural - b.natural) < 0.5 * (a.damping * a.natural + b.damping * b.natural);
}

/// Two that overlap look like one broad one, which the search settles between them. They are two where that explains
/// what was measured much better in the same window, and both are resonances.
std::optional<std::pair<TriedMode, TriedMode>> split(const SweptCells& cells, const TriedMode& mode,
                                                     const std::vector<TriedMode>& others) {
  const SpeedWindow window = window_of(cells, mode);
  ModeFit one(cells, window, {mode}, others);
  if (!one.usable()) return std::nullopt;
  one.refine();
  const double aside = 0.7 * mode.damping;
  ModeFit two(cells, window,
              {{mode.natural * (1.0 - aside), 0.6 * mode.damping}, {mode.natural * (1.0 + aside), 0.6 * mode.damping}},
              others);
  if (!two.usable()) return std::nullopt;
  two.refine();
  const double evidence = 2.0 * static_cast<double>(two.turns()) * (one.misfit() - two.misfit());
  const TriedMode& first = two.modes()[0];
  const TriedMode& second = two.modes()[1];
  const Eigen::VectorXd u = two.covariance().diagonal().cwiseSqrt();
  const double narrowest = 0.25 * mode.damping;  // else it is a spike on one, not another of two
  const bool known = std::ranges::any_of(
      others, [&](const TriedMode& other) { return are_one(first, other) || are_one(second, other); });
  const bool both = !known && !are_one(first, second) && std::min(first.damping, second.damping) > narrowest &&
                    in_range(cells, first) && in_range(cells, second) && two.largest_share_of(0) > least_share &&
                    two.largest_share_of(1) > least_share && earned(u.head<2>()) && earned(u.tail<2>());
  if (!both || !(evidence > least_evidence)) return std::nullopt;
  return std::pair{first, second};
}

void note_peak(const SweptCells& cells, Index sensor, Resonance& found) {
  const double width = found.damping_ratio * found.speed_rad_s;
  const double lag = 3.0 * std::sqrt(rate_at(cells, found.speed_rad_s));
  for (std::size_t i = 0; i < cells.sweep.size(); ++i) {
    const double speed = cells.sweep.speeds_rad_s[i];
    const double size = std::abs(cells.vectors(static_cast<Index>(i), sensor));
    if (std::abs(speed - found.speed_rad_s) > 2.0 * width + lag || size <= found.peak_amplitude) continue;
    found.peak_amplitude = size;
    found.peak_speed_rad_s = speed;
  }
}

std::vector<TriedMode> modes_of(const SweptCells& cells) {
  const ModeSearch search(cells);
  std::vector<TriedMode> modes;
  std::vector<double> tried;
  for (std::size_t misses = 0; misses < most_misses && modes.size() < most_resonances;) {
    const ModeSearch::Found found = search.best(modes, tried);
    if (found.evidence < least_evidence) break;
    ++misses;
    tried.push_back(found.mode.natural);
    auto fit = settled_fit(cells, found.mode, modes);
    if (!fit) continue;
    const TriedMode mode = fit->modes().front();
    if (!in_range(cells, mode) || fit->largest_share_of(0) < least_share) continue;
    const bool twice = std::any_of(modes.begin(), modes.end(), [&](const TriedMode& m) { return are_one(m, mode); });
    if (twice || !earned(fit->covariance().diagonal().head<2>().cwiseSqrt())) continue;
    misses = 0;
    modes.push_back(mode);
    for (std::size_t k = 0; k + 1 < modes.size(); ++k) {  // those that were sought along
      for (std::size_t f = 1; f < fit->modes().size(); ++f) {
        if (std::abs(fit->modes()[f].natural / modes[k].natural - 1.0) < 0.02) modes[k] = fit->modes()[f];
      }
    }
  }
  for (std::size_t k = 0; k < modes.size() && modes.size() < most_resonances; ++k) {
    const auto two = split(cells, modes[k], all_but(modes, k));
    if (!two) continue;
    modes[k] = two->first;
    modes.push_back(two->second);
  }
  return modes;
}

}  // namespace

std::vector<std::vector<Resonance>> find_resonances(std::span<const SweptTurn> turns, Motion shown) {
  const Motion motion = taken_for(shown);
  if (turns.empty()) return {};
  std::vector<std::vector<Resonance>> all(turns.front().vectors.size());
  if (turns.size() < fewest_turns_fitted) return all;
  const SweptCells cells = swept_cells(turns, motion);
  std::vector<TriedMode> modes = modes_of(cells);
  for (std::size_t k = 0; k < modes.size(); ++k) {
    ModeFit fit = fit_around(cells, modes[k], all_but(modes, k));
    if (!fit.usable()) continue;
    fit.refine();
    const TriedMode mode = fit.modes().front();
    const Eigen::Vector2d u = uncertainties(cells, fit, all_but(modes, k));
    if (!in_range(cells, mode) || !earned(u)) continue;
    for (std::size_t s = 0; s < all.size(); ++s) {
      const auto sensor = static_cast<Index>(s);
      if (fit.share_of(0, sensor) < least_share) continue;
      Resonance found;
      found.speed_rad_s = mode.natural;
      found.u_speed_rad_s = mode.natural * u(0);
      found.damping_ratio = mode.damping;
      found.u_damping_ratio = mode.damping * u(1);
      const Circle circle = circle_fit(fit.left_to_first(sensor, 3.0 * mode.damping * mode.natural), motion);
      found.circle_speed_rad_s = circle.speed_rad_s;
      found.circle_damping_ratio = circle.damping_ratio;
      note_peak(cells, sensor, found);
      all[s].push_back(found);
    }
  }
  for (auto& of_sensor : all) std::ranges::sort(of_sensor, {}, &Resonance::speed_rad_s);
  return all;
}

}  // namespace counterspot
