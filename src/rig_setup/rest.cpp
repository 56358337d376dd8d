#include <algorithm>
#include <cmath>

#include "algebra/median.hpp"
#include "counterspot/rig_setup/findings.hpp"
#include "tracking/welch.hpp"

namespace counterspot {

namespace {

constexpr double over_noise_power = 40.0;  // of noise one line in e^40 is as large

/// Of the lines around one.
double noise_power_at(const std::vector<double>& powers, std::size_t at, std::size_t reach) {
  const std::size_t from = at > reach ? at - reach : 0;
  const std::size_t to = std::min(at + reach, powers.size());
  return median_of(std::vector(powers.begin() + static_cast<std::ptrdiff_t>(from),
                               powers.begin() + static_cast<std::ptrdiff_t>(to))) /
         std::log(2.0);
}

/// The strongest that stands over the noise around it and is no hum.
void add_line(RestFinding& found, const std::vector<double>& powers, double line_Hz) {
  std::size_t strongest = 0;
  const auto reach = static_cast<std::size_t>(5.0 / line_Hz);
  for (auto at = static_cast<std::size_t>(2.0 / line_Hz);
       at < powers.size() && static_cast<double>(at) * line_Hz <= 400.0; ++at) {
    if (powers[at] <= powers[strongest] && strongest != 0) continue;
    const double hum_Hz = found.hum_Hz.value_or(1e9);
    const double beside = std::remainder(static_cast<double>(at) * line_Hz, hum_Hz);
    if (found.hum_Hz && std::abs(beside) < 1.0) continue;
    if (powers[at] > over_noise_power * noise_power_at(powers, at, reach)) strongest = at;
  }
  if (strongest == 0) return;
  found.line_Hz = static_cast<double>(strongest) * line_Hz;
  found.line_amplitude = std::sqrt(powers[strongest]);
}

}  // namespace

RestFinding find_rest(const std::vector<double>& samples, double sample_rate_Hz) {
  RestFinding found;
  const std::size_t part = samples.size() / 5;
  const std::vector<double> first(samples.begin(), samples.begin() + static_cast<std::ptrdiff_t>(part));
  const std::vector<double> last(samples.end() - static_cast<std::ptrdiff_t>(part), samples.end());
  found.drift = median_of(last) - median_of(first);
  double sum = 0.0, squares = 0.0;
  for (const double x : samples) sum += x;
  const double mean = sum / static_cast<double>(samples.size());
  for (const double x : samples) squares += (x - mean) * (x - mean);
  found.noise_rms = std::sqrt(squares / static_cast<double>(samples.size()));

  std::vector<double> powers(samples.size() / 2, 0.0);  // squared amplitudes, one line per 1/duration
  add_powers(samples, powers);
  const double line_Hz = sample_rate_Hz / static_cast<double>(samples.size());
  const auto line_at = [&](double f) { return std::min(static_cast<std::size_t>(f / line_Hz), powers.size() - 1); };
  const std::vector<double> band(powers.begin() + static_cast<std::ptrdiff_t>(line_at(15.0)),
                                 powers.begin() + static_cast<std::ptrdiff_t>(line_at(60.0)) + 1);
  // Of noise the squared amplitude of a line is spread exponentially, the median at ln 2 of the mean; half of it is
  // the power, in one noise bandwidth.
  const double mean_power = median_of(band) / std::log(2.0);
  found.noise_per_rtHz = std::sqrt(0.5 * mean_power / (hann_noise_bandwidth * line_Hz));
  double strongest = over_noise_power * mean_power;
  for (const double hum_Hz : {50.0, 60.0}) {
    if (hum_Hz + 1.0 > 0.5 * sample_rate_Hz) continue;
    for (std::size_t line = line_at(hum_Hz - 0.5); line <= line_at(hum_Hz + 0.5); ++line) {
      if (powers[line] <= strongest) continue;
      strongest = powers[line];
      found.hum_Hz = hum_Hz;
      found.hum_amplitude = std::sqrt(powers[line]);
    }
  }
  add_line(found, powers, line_Hz);
  return found;
}

}  // namespace counterspot
