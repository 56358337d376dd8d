#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

#include "counterspot/rig_setup/findings.hpp"
#include "counterspot/units/angle.hpp"

namespace counterspot {

namespace {

constexpr double least_Hz = 3.0, most_Hz = 300.0;
constexpr double least_corner_Hz = 1.0, most_corner_Hz = 60.0;
constexpr std::size_t most_samples = 2500;
constexpr double heard_share = 0.01;        // of the largest swing: after the last of these nothing rings
constexpr double most_misfit = 0.1;         // of the power of the samples
constexpr double corner_over_noise = 60.0;  // fall of the misfit, in variances of it a sample: far beyond chance

/// log of frequency and damping, and of the corner if there is one.
using Poles = Eigen::VectorXd;

/// What the best amplitudes leave, sum of squares: a swing, a level, and the decay of a high-pass.
template <int columns>
double left_by(const std::vector<double>& samples, double rate_Hz, const Poles& poles) {
  const double rate = turn_rad * std::exp(poles(0));
  const double damping = std::min(std::exp(poles(1)), 0.9);
  const double step_s = 1.0 / rate_Hz;
  const Phasor turn = std::exp(Phasor(-damping, std::sqrt(1.0 - damping * damping)) * rate * step_s);
  const double fall = columns == 4 ? std::exp(-turn_rad * std::exp(poles(poles.size() - 1)) * step_s) : 0.0;
  using Row = Eigen::Matrix<double, columns, 1>;
  Eigen::Matrix<double, columns, columns> normal = Eigen::Matrix<double, columns, columns>::Zero();
  Row right = Row::Zero();
  Row row = Row::Ones();
  double power = 0.0;
  double re = 1.0, im = 0.0;
  for (const double x : samples) {
    row(0) = re;
    row(1) = im;
    normal.noalias() += row * row.transpose();
    right += x * row;
    power += x * x;
    const double next = re * turn.real() - im * turn.imag();
    im = re * turn.imag() + im * turn.real();
    re = next;
    if constexpr (columns == 4) row(3) *= fall;
  }
  return power - right.dot(normal.ldlt().solve(right));
}

double misfit(const std::vector<double>& samples, double rate_Hz, const Poles& poles) {
  return poles.size() == 3 ? left_by<4>(samples, rate_Hz, poles) : left_by<3>(samples, rate_Hz, poles);
}

/// Steps in each direction by turns, halved where none helps.
double improve(const std::vector<double>& samples, double rate_Hz, Poles& poles, Poles step) {
  double best = misfit(samples, rate_Hz, poles);
  for (int round = 0; round < 60 && step.maxCoeff() > 1e-4; ++round) {
    for (Eigen::Index p = 0; p < poles.size(); ++p) {
      bool better = false;
      for (const double sign : {1.0, -1.0}) {
        Poles tried = poles;
        tried(p) += sign * step(p);
        const double left = misfit(samples, rate_Hz, tried);
        if (left >= best) continue;
        best = left;
        poles = tried;
        better = true;
        break;
      }
      step(p) *= better ? 1.3 : 0.5;
    }
  }
  return best;
}

/// Where a swing of moderate damping explains most.
Poles coarse(const std::vector<double>& samples, double rate_Hz) {
  Poles best(2);
  double least = std::numeric_limits<double>::infinity();
  for (const double damping : {0.02, 0.08}) {
    for (double f = least_Hz; f < std::min(most_Hz, 0.4 * rate_Hz); f *= 1.0 + damping) {
      Poles poles(2);
      poles << std::log(f), std::log(damping);
      const double left = misfit(samples, rate_Hz, poles);
      if (left >= least) continue;
      least = left;
      best = poles;
    }
  }
  return best;
}

}  // namespace

std::optional<RingDown> fit_ring_down(const std::vector<double>& all, double rate_Hz) {
  double largest = 0.0;
  for (const double x : all) largest = std::max(largest, std::abs(x));
  std::size_t heard = all.size();
  while (heard > 64 && std::abs(all[heard - 1]) < heard_share * largest) --heard;
  // What is slower than a quarter of its samples is seen as well with fewer of them.
  std::vector<double> samples(all.begin(), all.begin() + static_cast<std::ptrdiff_t>(heard));
  while (samples.size() > most_samples && rate_Hz > 8.0 * most_Hz) {
    for (std::size_t i = 0; 2 * i + 1 < samples.size(); ++i) samples[i] = 0.5 * (samples[2 * i] + samples[2 * i + 1]);
    samples.resize(samples.size() / 2);
    rate_Hz *= 0.5;
  }
  if (samples.size() < 32) return std::nullopt;
  double power = 0.0;
  for (const double x : samples) power += x * x;
  Poles poles = coarse(samples, rate_Hz);
  const double left = improve(samples, rate_Hz, poles, Eigen::Vector2d(0.02, 0.3));
  // With the decay of a high-pass beside it, from several corners.
  Poles best(3);
  double least = std::numeric_limits<double>::infinity();
  for (const double corner_Hz : {4.0, 20.0}) {
    Poles tried(3);
    tried << poles(0), poles(1), std::log(corner_Hz);
    const double with = improve(samples, rate_Hz, tried, Eigen::Vector3d(0.02, 0.3, 0.3));
    if (with >= least) continue;
    least = with;
    best = tried;
  }
  const double corner_Hz = std::exp(best(2));
  const double variance = least / static_cast<double>(samples.size());
  const bool has_corner = corner_Hz > least_corner_Hz && corner_Hz < most_corner_Hz &&
                          left - least > corner_over_noise * variance && least < 0.5 * left;
  if (has_corner) poles = best.head(2);
  if ((has_corner ? least : left) > most_misfit * power) return std::nullopt;
  RingDown found{std::exp(poles(0)), std::exp(poles(1)), {}};
  if (has_corner) found.high_pass_Hz = corner_Hz;
  if (found.damping > 0.5) return std::nullopt;
  return found;
}

}  // namespace counterspot
