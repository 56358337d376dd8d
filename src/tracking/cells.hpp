#pragma once

#include <complex>
#include <cstdint>
#include <span>
#include <vector>

#include "tracking/spin_stream.hpp"
#include "tracking/turn_sums.hpp"

namespace counterspot {

/// One turn, or several neighbouring turns added up.
struct Cell {
  double begin_frame = 0.0;
  double end_frame = 0.0;
  double begin_angle_rad = 0.0;  ///< from the first edge of the recording on
  double turning_frames = 0.0;  ///< time covered by turns (less than end − begin where the shaft was lost from sight)
  std::int64_t turns = 0;
  std::int64_t frames = 0;
};

/// What the estimate needs of a spin, turn by turn: Σx, Σx², Σx e^{jkθ} of each sensor and Σe^{jmθ} for every m that
/// the normal equations of DC and the orders meet. All of it adds up, so when there are too many turns neighbours are
/// merged two by two, and memory stays bounded whatever the length of the recording.
class Cells {
 public:
  /// @param channels 0-based channel of each sensor. @param most_doubles bound of what is held.
  Cells(std::vector<double> orders, std::vector<std::size_t> channels, std::size_t most_doubles = std::size_t{1} << 21);

  void add(const TurnOfSamples& turn, const TurnSums& sums, std::size_t padded_channel_count);

  std::size_t size() const { return cells_.size(); }
  std::size_t sensors() const { return channels_.size(); }
  const std::vector<double>& orders() const { return orders_; }
  const Cell& cell(std::size_t i) const { return cells_[i]; }
  double sum(std::size_t i, std::size_t sensor) const { return at(i)[2 * sensor]; }
  double square(std::size_t i, std::size_t sensor) const { return at(i)[2 * sensor + 1]; }
  /// Σ x e^{jkθ}, k = orders()[order].
  std::complex<double> order_sum(std::size_t i, std::size_t sensor, std::size_t order) const;
  /// Σ e^{jmθ}; m is in thousandths and 0, one of the orders, or a sum or difference of two of them.
  std::complex<double> phasor_sum(std::size_t i, double m) const;

  /// Takes something known off a sensor's sums: its Σ x, Σ x² and Σ x e^{jkθ} of each order.
  void take_off(std::size_t i, std::size_t sensor, double sum, double square,
                const std::vector<std::complex<double>>& order_sums);

 private:
  const double* at(std::size_t i) const { return values_.data() + i * width_; }
  void merge_pairs();

  std::vector<double> orders_;
  std::vector<std::size_t> channels_;
  std::vector<int> multiples_;  // every m > 0 that is kept, in thousandths, ascending
  std::vector<int> place_;      // of m in multiples_
  std::size_t width_ = 0;       // doubles a cell
  std::size_t most_cells_ = 0;
  std::int64_t turns_per_cell_ = 1;
  std::vector<Cell> cells_;
  std::vector<double> values_;
};

/// Σ_n e^{jmθ} e^{−j2πfn} over a cell, n in frames from the start of the recording.
std::complex<double> sum_over(const Cell& cell, double m, double cycles_per_frame);

}  // namespace counterspot
