#include "counterspot/influence/amplitude_only.hpp"

#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <random>

#include "algebra/pseudo_inverse.hpp"
#include "influence/design_matrix.hpp"

namespace counterspot {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXcd;
using Eigen::VectorXd;

/// Residuals of a guess over their uncertainty, and their slopes by the real unknowns.
struct Misfit {
  VectorXd residual;
  MatrixXd slope;
};

/// Amplitudes in parts of the largest of each sensor, weights in parts of the heaviest.
struct Problem {
  Eigen::MatrixXcd weights;  // K×P
  MatrixXd amplitudes;       // K×S
  MatrixXd u;                // K×S
  VectorXd u_last;           // S, of the last spin's readings alone
  double heaviest_kg_m = 1.0;

  Index spins() const { return weights.rows(); }
  Index planes() const { return weights.cols(); }
  Index sensors() const { return amplitudes.cols(); }
};

Problem problem_of(const std::vector<AmplitudeReading>& spins, int planes) {
  const auto count = static_cast<Index>(spins.size());
  const auto sensors = static_cast<Index>(spins.front().amplitudes.size());
  Problem problem{Eigen::MatrixXcd::Zero(count, planes), MatrixXd(count, sensors), MatrixXd(count, sensors), {}};
  for (Index k = 0; k < count; ++k) {
    const AmplitudeReading& spin = spins[static_cast<std::size_t>(k)];
    for (const FittedWeight& piece : spin.fitted) problem.weights(k, piece.plane) += piece.unbalance_kg_m();
    for (Index s = 0; s < sensors; ++s) {
      problem.amplitudes(k, s) = spin.amplitudes[static_cast<std::size_t>(s)];
      problem.u(k, s) = spin.u_amplitudes[static_cast<std::size_t>(s)];
    }
  }
  problem.heaviest_kg_m = std::max(problem.weights.cwiseAbs().maxCoeff(), 1e-300);
  problem.weights /= problem.heaviest_kg_m;
  for (Index s = 0; s < sensors; ++s) {
    const double largest = std::max(problem.amplitudes.col(s).maxCoeff(), 1e-300);
    problem.amplitudes.col(s) /= largest;
    problem.u.col(s) /= largest;
  }
  problem.u_last = problem.u.bottomRows(1).transpose();
  return problem;
}

/// A row |z|, where z = Σ f_i x_i of complex unknowns x: slope by (Re x_i, Im x_i) is Re(e^{−j arg z} f_i), −Im(…).
void add_row(Misfit& misfit, Index row, const Phasor& z, double amplitude, double u, const VectorXcd& factors) {
  const double size = std::max(std::abs(z), 1e-12);
  misfit.residual(row) = (std::abs(z) - amplitude) / u;
  for (Index i = 0; i < factors.size(); ++i) {
    const Phasor by = std::conj(z) / size * factors(i) / u;
    misfit.slope(row, 2 * i) = by.real();
    misfit.slope(row, 2 * i + 1) = -by.imag();
  }
}

Phasor complex_at(const VectorXd& x, Index i) {
  return {x(2 * i), x(2 * i + 1)};
}

/// One sensor by itself: unknowns Z_0, α_1, …, α_P.
Misfit misfit_of_sensor(const Problem& problem, Index s, const VectorXd& x) {
  const Index unknowns = 1 + problem.planes();
  Misfit misfit{VectorXd(problem.spins()), MatrixXd(problem.spins(), 2 * unknowns)};
  for (Index k = 0; k < problem.spins(); ++k) {
    VectorXcd factors(unknowns);
    factors << 1.0, problem.weights.row(k).transpose();
    Phasor z = 0.0;
    for (Index i = 0; i < unknowns; ++i) z += factors(i) * complex_at(x, i);
    add_row(misfit, k, z, problem.amplitudes(k, s), problem.u(k, s), factors);
  }
  return misfit;
}

/// All sensors: unknowns U_1, …, U_P, then each sensor's α.
Misfit misfit_of_all(const Problem& problem, const VectorXd& x) {
  const Index planes = problem.planes();
  const Index unknowns = planes * (1 + problem.sensors());
  const Index rows = problem.spins() * problem.sensors();
  Misfit misfit{VectorXd(rows), MatrixXd(rows, 2 * unknowns)};
  for (Index s = 0; s < problem.sensors(); ++s) {
    for (Index k = 0; k < problem.spins(); ++k) {
      VectorXcd factors = VectorXcd::Zero(unknowns);
      Phasor z = 0.0;
      for (Index p = 0; p < planes; ++p) {
        const Index of_alpha = planes * (1 + s) + p;
        const Phasor alpha = complex_at(x, of_alpha);
        const Phasor carried = complex_at(x, p) + problem.weights(k, p);
        z += alpha * carried;
        factors(p) = alpha;
        factors(of_alpha) = carried;
      }
      add_row(misfit, s * problem.spins() + k, z, problem.amplitudes(k, s), problem.u(k, s), factors);
    }
  }
  return misfit;
}

/// Levenberg–Marquardt (D. W. Marquardt 1963). The phase of each sensor is free: the damping holds it.
template <typename Of>
double descend(const Of& misfit_of, VectorXd& x) {
  double damping = 1e-2;
  Misfit here = misfit_of(x);
  double chi_squared = here.residual.squaredNorm();
  constexpr int most_steps = 200;
  for (int step = 0; step < most_steps && damping < 1e12; ++step) {
    MatrixXd curvature = here.slope.transpose() * here.slope;
    const double size = curvature.diagonal().maxCoeff();
    curvature.diagonal().array() *= 1.0 + damping;
    curvature.diagonal().array() += 1e-12 * size;
    const VectorXd there = x - curvature.ldlt().solve(here.slope.transpose() * here.residual);
    const Misfit next = misfit_of(there);
    const double next_chi_squared = next.residual.squaredNorm();
    if (!(next_chi_squared < chi_squared)) {
      damping *= 10.0;
      continue;
    }
    const bool settled = chi_squared - next_chi_squared < 1e-9 * (1.0 + chi_squared);
    x = there;
    here = next;
    chi_squared = next_chi_squared;
    damping = std::max(0.1 * damping, 1e-9);
    if (settled) break;
  }
  return chi_squared;
}

struct Fit {
  VectorXd x;
  double chi_squared = 0.0;
};

bool alike(const VectorXd& one, const VectorXd& other, double within) {
  return (one - other).norm() <= within * (1.0 + one.norm());
}

/// The clearly better answers only, each once.
void keep_best(std::vector<Fit>& fits, double within, std::size_t most) {
  constexpr double as_good = 12.0;  // of chi-squared: about three and a half standard deviations
  std::sort(fits.begin(), fits.end(), [](const Fit& a, const Fit& b) { return a.chi_squared < b.chi_squared; });
  std::vector<Fit> kept;
  for (const Fit& fit : fits) {
    if (kept.size() == most || fit.chi_squared > fits.front().chi_squared + as_good) break;
    auto same = [&](const Fit& other) { return alike(fit.x, other.x, within); };
    if (std::none_of(kept.begin(), kept.end(), same)) kept.push_back(fit);
  }
  fits = kept;
}

/// Turned so that α_1 is real and positive.
VectorXd without_phase(const VectorXd& x) {
  const Phasor alpha = complex_at(x, 1);
  const Phasor turn = std::abs(alpha) > 0.0 ? std::conj(alpha) / std::abs(alpha) : Phasor(1.0);
  VectorXd turned(x.size());
  for (Index i = 0; i < x.size() / 2; ++i) turned.segment<2>(2 * i) = as_vector(turn * complex_at(x, i));
  return turned;
}

std::vector<Fit> fits_of_sensor(const Problem& problem, Index s) {
  std::mt19937_64 random(1);  // always the same starts
  auto uniform = [&] { return static_cast<double>(random()) * 0x1p-64; };
  const int starts = problem.planes() == 1 ? 24 : 80;
  std::vector<Fit> fits;
  for (int start = 0; start < starts; ++start) {
    VectorXd x(2 * (1 + problem.planes()));
    for (Index i = 0; i <= problem.planes(); ++i)
      x.segment<2>(2 * i) = as_vector(std::polar(1.2 * uniform(), turn_rad * uniform()));
    const double chi_squared = descend([&](const VectorXd& at) { return misfit_of_sensor(problem, s, at); }, x);
    fits.push_back({without_phase(x), chi_squared});
  }
  keep_best(fits, 1e-2, 4);
  return fits;
}

/// U from one answer of each sensor, least squares: Σ α_sp U_p = Z_0s. Then the α.
VectorXd start_of(const std::vector<const Fit*>& chosen, Index planes) {
  const auto sensors = static_cast<Index>(chosen.size());
  Eigen::MatrixXcd alpha(sensors, planes);
  VectorXcd reading(sensors);
  VectorXd x(2 * planes * (1 + sensors));
  for (Index s = 0; s < sensors; ++s) {
    const VectorXd& of_sensor = chosen[static_cast<std::size_t>(s)]->x;
    reading(s) = complex_at(of_sensor, 0);
    for (Index p = 0; p < planes; ++p) alpha(s, p) = complex_at(of_sensor, 1 + p);
    x.segment(2 * planes * (1 + s), 2 * planes) = of_sensor.tail(2 * planes);
  }
  const VectorXcd unbalance = least_squares(alpha, reading);
  for (Index p = 0; p < planes; ++p) x.segment<2>(2 * p) = as_vector(unbalance(p));
  return x;
}

/// Every combination of the sensors' answers, refined together.
std::vector<Fit> fits_of_all(const Problem& problem) {
  std::vector<std::vector<Fit>> of_sensors;
  std::size_t combinations = 1;
  for (Index s = 0; s < problem.sensors(); ++s) {
    of_sensors.push_back(fits_of_sensor(problem, s));
    combinations *= of_sensors.back().size();
  }
  std::vector<Fit> fits;
  for (std::size_t number = 0; number < combinations; ++number) {
    std::vector<const Fit*> chosen;
    std::size_t rest = number;
    for (const auto& of_sensor : of_sensors) {
      chosen.push_back(&of_sensor[rest % of_sensor.size()]);
      rest /= of_sensor.size();
    }
    VectorXd x = start_of(chosen, problem.planes());
    const double chi_squared = descend([&](const VectorXd& at) { return misfit_of_all(problem, at); }, x);
    fits.push_back({x, chi_squared});
  }
  return fits;
}

/// A badly set piece moves an amplitude by up to |α_p W_p| times how badly it is set.
void widen_by_setting(Problem& problem, const VectorXd& x, const SettingUncertainty& setting) {
  for (Index s = 0; s < problem.sensors(); ++s) {
    for (Index k = 0; k < problem.spins(); ++k) {
      double squared = problem.u(k, s) * problem.u(k, s);
      for (Index p = 0; p < problem.planes(); ++p) {
        squared += std::norm(complex_at(x, problem.planes() * (1 + s) + p) * problem.weights(k, p)) * 0.5 *
                   (setting.mass_fraction * setting.mass_fraction + setting.angle_rad * setting.angle_rad);
      }
      problem.u(k, s) = std::sqrt(squared);
    }
  }
}

AmplitudeCandidate candidate_of(const Problem& problem, const Fit& fit) {
  const Index planes = problem.planes();
  AmplitudeCandidate candidate;
  candidate.chi_squared = fit.chi_squared;
  for (Index p = 0; p < planes; ++p) {
    candidate.as_found_kg_m.push_back(problem.heaviest_kg_m * complex_at(fit.x, p));
    candidate.residual_kg_m.push_back(problem.heaviest_kg_m *
                                      (complex_at(fit.x, p) + problem.weights(problem.spins() - 1, p)));
  }
  candidate.response.resize(problem.sensors(), planes);
  for (Index s = 0; s < problem.sensors(); ++s)
    for (Index p = 0; p < planes; ++p)
      candidate.response(s, p) = complex_at(fit.x, planes * (1 + s) + p) / (problem.u_last(s) * problem.heaviest_kg_m);
  const MatrixXd slope = misfit_of_all(problem, fit.x).slope;
  const MatrixXd inverse = pseudo_inverse(slope);  // the phases stay undecided
  candidate.covariance = problem.heaviest_kg_m * problem.heaviest_kg_m *
                         (inverse * inverse.transpose()).topLeftCorner(2 * planes, 2 * planes);
  return candidate;
}

/// The unbalance is what counts: answers that differ only in the phases are one.
void keep_different(std::vector<Fit>& fits, Index planes) {
  std::vector<Fit> kept;
  constexpr double as_good = 12.0;
  std::sort(fits.begin(), fits.end(), [](const Fit& a, const Fit& b) { return a.chi_squared < b.chi_squared; });
  for (const Fit& fit : fits) {
    if (fit.chi_squared > fits.front().chi_squared + as_good) break;
    auto same = [&](const Fit& other) { return alike(fit.x.head(2 * planes), other.x.head(2 * planes), 2e-2); };
    if (std::none_of(kept.begin(), kept.end(), same)) kept.push_back(fit);
  }
  fits = kept;
}

}  // namespace

AmplitudeSummary solve_amplitudes(const std::vector<AmplitudeReading>& spins, int planes,
                                  const SettingUncertainty& setting) {
  AmplitudeSummary summary;
  const auto sensors = spins.empty() ? 0 : static_cast<int>(spins.front().amplitudes.size());
  const auto count = static_cast<int>(spins.size());
  const int needed = 2 * planes + 1;  // 2(1 + P) − 1 unknowns a sensor
  if (sensors < planes || count < needed) {
    summary.refusal = {
        fmt::format("{} spins with {} sensors are too few for {} planes without phase", count, sensors, planes),
        fmt::format("make at least {} spins, with one trial weight at three positions of each plane", needed + 1)};
    return summary;
  }
  Problem problem = problem_of(spins, planes);
  std::vector<Fit> fits = fits_of_all(problem);
  const auto best = std::min_element(fits.begin(), fits.end(),
                                     [](const Fit& a, const Fit& b) { return a.chi_squared < b.chi_squared; });
  widen_by_setting(problem, best->x, setting);
  for (Fit& fit : fits)
    fit.chi_squared = descend([&](const VectorXd& at) { return misfit_of_all(problem, at); }, fit.x);
  keep_different(fits, planes);
  for (const Fit& fit : fits) summary.candidates.push_back(candidate_of(problem, fit));
  summary.degrees_of_freedom = sensors * (count - planes * 2) - 2 * planes + sensors;
  summary.usable = true;
  return summary;
}

}  // namespace counterspot
