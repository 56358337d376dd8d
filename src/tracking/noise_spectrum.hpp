#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "counterspot/tracking/tracking.hpp"
#include "tracking/stretch.hpp"

namespace counterspot {

/// Collects what one sensor shows beside orders and lines, from spectra of stretches (definitions in tracking.hpp,
/// NoiseBand) with the window of PowerSpectrum, so that an order a thousand times the noise is over within four lines.
class NoiseSpectrum {
 public:
  explicit NoiseSpectrum(double rate_Hz);

  /// @param powers of this sensor in the stretch, by PowerSpectrum.
  void add(const Stretch& stretch, std::span<const double> powers);

  /// Forgets the stretches that do not lie between these frames.
  void keep_between(double first_frame, double end_frame);

  bool empty() const { return looks_.empty(); }
  /// In units of a sample times `scale`.
  std::vector<NoiseBand> bands(double scale) const;

  /// Mean power at the whole order k ≤ most_orders over the noise beside it: about 1 where nothing turns with the
  /// shaft. 0 where a line of the mains may stand as well, or nothing is known.
  double over_noise(std::size_t order) const;
  /// The least such ratio that chance does not make.
  double sure_ratio() const;
  static constexpr std::size_t most_orders = 8;

  /// n ≤ most_marks, if a line stands at one nth of the tach's frequency, in every stretch within a quarter of a line
  /// and on average within a tenth, at least twice as high as that at the tach's frequency and ten times the noise: the
  /// highest such line. So exact a share turns with the shaft, and is not chance.
  std::optional<int> marks_a_turn() const;
  static constexpr std::size_t most_marks = 60;

 private:
  struct Range {
    double from_Hz = 0.0;
    double to_Hz = 0.0;
  };
  struct Free {
    double mean = 0.0;  // power of a line, as the median has it
    double lines = 0.0;
  };
  struct Line {
    double power = 0.0;
    double over_noise = 0.0;
    double off_lines = 0.0;  // how far from its place
  };
  /// What one stretch shows.
  struct Look {
    double first_frame = 0.0;
    double end_frame = 0.0;
    std::vector<Free> bands;
    std::array<double, most_orders + 1> order_powers{};
    std::array<double, most_orders + 1> noise_beside{};  // 0: not known, or a line of the mains may stand there
    std::vector<Line> shares;                            // highest line beside one nth of order 1, from n = 2 on
  };
  std::vector<Line> lines_at_shares(std::span<const double> powers, double lines_per_order);
  Free free_lines(std::span<const double> powers, double first, double end, double lines_per_order);

  double rate_Hz_;
  std::vector<Range> ranges_;
  std::vector<Look> looks_;
  std::vector<double> kept_;  // free_lines() works in it
};

double broadband_rms(const std::vector<NoiseBand>& bands);

}  // namespace counterspot
