#pragma once

#include <Eigen/Core>
#include <vector>

namespace counterspot {

/// The Kaiser-windowed sinc of a given number of zero crossings on either side, sinc(u)·I₀(β√(1-(u/N)²))/I₀(β), 80 dB
/// down where it stops (Kaiser 1974). Kept as a polynomial from each crossing to the next, which is off by less than
/// 2e-6: an equally spaced row of values costs a few multiplications each, without a table.
class InterpolatingFunction {
 public:
  explicit InterpolatingFunction(double crossings);

  double crossings() const { return crossings_; }
  /// values[i] at u = begin + i·step, `count` of them. @pre all within ±crossings; step > 0.
  void fill(double begin, double step, std::size_t count, std::vector<double>& values) const;

 private:
  static constexpr int degree = 7;
  using Polynomial = Eigen::Matrix<double, degree + 1, 1>;  // in t = -1 … 1 along its piece

  double crossings_;
  double piece_;                    // how long a piece is
  std::vector<Polynomial> pieces_;  // from -crossings on
};

}  // namespace counterspot
