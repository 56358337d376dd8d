#include "tracking/interpolating_function.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <cstring>

#include "counterspot/units/angle.hpp"
#include "recording/clones.hpp"

namespace counterspot {
namespace {

constexpr double kaiser_beta = 7.86;
constexpr std::size_t at_once = 4;

/// The modified Bessel function I_0 by its series (Abramowitz & Stegun 1964, 9.6.12); all terms are positive. Not
/// std::cyl_bessel_i: it asks lgamma, which writes a global, and batches build these functions on several threads.
double bessel_i0(double x) {
  double term = 1.0;
  double sum = 1.0;
  for (int k = 1; term > 1e-17 * sum; ++k) sum += term *= std::pow(0.5 * x / k, 2);
  return sum;
}

double windowed_sinc(double u, double crossings) {
  const double sinc = u == 0.0 ? 1.0 : std::sin(pi * u) / (pi * u);
  const double part = u / crossings;
  const double window = bessel_i0(kaiser_beta * std::sqrt(std::max(0.0, 1.0 - part * part)));
  return sinc * window / bessel_i0(kaiser_beta);
}

/// Horner's rule at t, t + rise …, four at a time; up to three values more than asked for are written.
COUNTERSPOT_CLONES
void fill_piece(const double* c, double t, double rise, std::size_t count, double* values) {
  using Quad = double __attribute__((vector_size(32)));
  const Quad lanes = {0.0, 1.0, 2.0, 3.0};
  for (std::size_t i = 0; i < count; i += at_once) {
    const Quad at = t + rise * (static_cast<double>(i) + lanes);
    const Quad value =
        ((((((c[7] * at + c[6]) * at + c[5]) * at + c[4]) * at + c[3]) * at + c[2]) * at + c[1]) * at + c[0];
    std::memcpy(values + i, &value, sizeof value);
  }
}

}  // namespace

InterpolatingFunction::InterpolatingFunction(double crossings) : crossings_(crossings) {
  const int half = static_cast<int>(std::ceil(crossings));
  piece_ = crossings / half;
  // Through the zeros of the Chebyshev polynomial of the next degree, where the largest error is nearly the least there
  // can be.
  Polynomial at;
  for (int i = 0; i <= degree; ++i) at[i] = std::cos(pi * (i + 0.5) / (degree + 1));
  Eigen::Matrix<double, degree + 1, degree + 1> powers;
  for (int p = 0; p <= degree; ++p) powers.col(p) = at.array().pow(p);
  const Eigen::PartialPivLU<decltype(powers)> solver(powers);
  for (int k = -half; k < half; ++k) {
    const Polynomial values =
        at.unaryExpr([&](double t) { return windowed_sinc((k + 0.5 + 0.5 * t) * piece_, crossings); });
    pieces_.emplace_back(solver.solve(values));
  }
}

void InterpolatingFunction::fill(double begin, double step, std::size_t count, std::vector<double>& values) const {
  values.resize(count + at_once - 1);
  std::size_t first = 0;
  for (std::size_t k = 0; k < pieces_.size(); ++k) {
    const double from = static_cast<double>(k) * piece_ - crossings_ - begin;
    const bool last = k + 1 == pieces_.size();
    const std::size_t end =
        last ? count : std::min(count, static_cast<std::size_t>(std::max(0.0, std::ceil((from + piece_) / step))));
    if (end <= first) continue;
    const double rise = 2.0 * step / piece_;
    fill_piece(pieces_[k].data(), -2.0 * from / piece_ - 1.0 + rise * static_cast<double>(first), rise, end - first,
               values.data() + first);
    first = end;
  }
  values.resize(count);
}

}  // namespace counterspot
