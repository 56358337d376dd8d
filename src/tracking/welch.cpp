#include "tracking/welch.hpp"

#include <cmath>
#include <complex>
#include <numeric>

#include "counterspot/units/angle.hpp"
#include "tracking/spectrum.hpp"

namespace counterspot {

void add_powers(std::span<const double> stretch, std::span<double> powers) {
  const auto count = static_cast<double>(stretch.size());
  const double mean = std::accumulate(stretch.begin(), stretch.end(), 0.0) / count;
  Transform spectrum(stretch.size());
  const auto values = spectrum.values();
  for (std::size_t n = 0; n < stretch.size(); ++n) {
    values[n] = (stretch[n] - mean) * (0.5 - 0.5 * std::cos(turn_rad * static_cast<double>(n) / count));
  }
  spectrum.run();
  const double scale = 2.0 / (0.5 * count);
  for (std::size_t i = 0; i < powers.size(); ++i) powers[i] += scale * scale * std::norm(values[i]);
}

}  // namespace counterspot
