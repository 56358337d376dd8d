#pragma once

#include <cstddef>
#include <vector>

#include "counterspot/tracking/tracking.hpp"
#include "tracking/spin_stream.hpp"

namespace counterspot {

/// Looks at some samples of each of the first turns and finds the step of the converter they came from.
class StepWatch {
 public:
  /// @param channels 0-based, one per sensor.
  explicit StepWatch(std::vector<std::size_t> channels);

  void add(const TurnOfSamples& turn);

  /// The smallest distance between two different values, in units of a sample, if all distances are multiples of it; 0
  /// if not (the samples are on no grid, or on one much finer than the signal), or if there is but one value.
  double step(std::size_t sensor) const;
  /// Largest less smallest value seen, in units of a sample.
  double range(std::size_t sensor) const;

 private:
  std::vector<std::size_t> channels_;
  std::vector<std::vector<double>> values_;
};

/// Adds to a vector's budget and covariance what the steps of the converter make of the order (GUM, JCGM 100:2008,
/// 4.3.7, for the step; correlated from turn to turn where nothing moves the signal over the steps). The mean output of
/// a converter of step q for a signal A cos θ about a level d, with noise σ, is off by
/// (q/π) Σ_m (−1)^m/m · sin(2πm(A cos θ + d)/q) · exp(−2π²m²σ²/q²) (Bennett 1948; Widrow & Kollár, Quantization Noise,
/// 2008, from memory), and so the order, along itself, by at most (2q/π) J₁(2πA/q) exp(−2π²σ²/q²) in the first term. d
/// is not known, nor where on J₁'s ripple A lies: a share of its envelope holds 95 % of cases.
/// σ is the least that the noise beside the order, the residual of the fit and the range of the samples allow.
/// @param step, range, residual_rms SI. @param frames samples of the fit.
void add_converter_steps(OrderVector& vector, double step, double range, double residual_rms, double frames);

}  // namespace counterspot
