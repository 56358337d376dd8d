#include "tracking/noise_spectrum.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "algebra/median.hpp"
#include "algebra/rank.hpp"

namespace counterspot {
namespace {

constexpr double lowest_Hz = 10.0;
constexpr double highest_fraction = 0.4;  // of the sample rate
constexpr double least_octave = 1.25;     // a last band narrower than that joins the one before it
constexpr double lobe_lines = 4.0;
constexpr double noise_bandwidth = 2.0;  // lines
constexpr double beside_orders = 3.0;    // on either side
constexpr double seen_share = 100.0;     // power over the noise beside it
constexpr double most_off_once = 0.25;
constexpr double most_off = 0.1;
constexpr double outweighs = 4.0;  // power: twice as high
constexpr double fewest_lines_between_orders = 12.0;

/// The mean of an exponential distribution from the lower quartile of n values of it, which three lines of the mains
/// and a belt in a narrow band do not reach. The expected r-th smallest of n is Σ 1/i, i from n − r + 1 to n (David &
/// Nagaraja, Order Statistics, 2.5).
double mean_by_quartile(std::vector<double>& values) {
  const std::size_t n = values.size();
  double expected = 0.0;
  for (std::size_t i = n - n / 4; i <= n; ++i) expected += 1.0 / static_cast<double>(i);
  return value_at_rank(values, n / 4) / expected;
}

bool near_mains(double frequency_Hz, double within_Hz) {
  return std::abs(std::remainder(frequency_Hz, 50.0)) < within_Hz ||
         std::abs(std::remainder(frequency_Hz, 60.0)) < within_Hz;
}

}  // namespace

NoiseSpectrum::NoiseSpectrum(double rate_Hz) : rate_Hz_(rate_Hz) {
  const double highest_Hz = highest_fraction * rate_Hz;
  for (double from_Hz = lowest_Hz; from_Hz < highest_Hz; from_Hz *= 2.0) {
    if (!ranges_.empty() && highest_Hz < least_octave * from_Hz) {
      ranges_.back().to_Hz = highest_Hz;
    } else {
      ranges_.push_back({from_Hz, std::min(2.0 * from_Hz, highest_Hz)});
    }
  }
}

/// Of the lines from `first` up to `end`, those that are not within the lobe of a whole order.
NoiseSpectrum::Free NoiseSpectrum::free_lines(std::span<const double> powers, double first, double end,
                                              double lines_per_order) {
  const bool orders_apart = lines_per_order >= fewest_lines_between_orders;
  const auto last = static_cast<std::size_t>(std::ceil(std::clamp(end, 0.0, static_cast<double>(powers.size()))));
  auto line = static_cast<std::size_t>(std::ceil(std::max(first, lobe_lines)));
  kept_.clear();
  for (double order = orders_apart ? std::round(static_cast<double>(line) / lines_per_order) : 0.0; line < last;
       order += 1.0) {
    // up to where the lobe of this order begins, then from behind it
    const double place = orders_apart ? order * lines_per_order : static_cast<double>(last) + lobe_lines;
    const auto lobe = static_cast<std::size_t>(std::max(std::floor(place - lobe_lines) + 1.0, 0.0));
    if (line < lobe) {
      const auto beside = powers.subspan(line, std::min(lobe, last) - line);
      kept_.insert(kept_.end(), beside.begin(), beside.end());
    }
    line = std::max(line, static_cast<std::size_t>(std::ceil(place + lobe_lines)));
  }
  if (kept_.empty()) return {};
  return {mean_by_quartile(kept_), static_cast<double>(kept_.size())};
}

/// The highest line within one of every place, its frequency by a parabola through the logarithms of three.
std::vector<NoiseSpectrum::Line> NoiseSpectrum::lines_at_shares(std::span<const double> powers,
                                                                double lines_per_order) {
  const Free beside = free_lines(powers, lobe_lines, lines_per_order, lines_per_order);
  std::vector<Line> found;
  for (std::size_t n = 2; n <= most_marks; ++n) {
    const double place = lines_per_order / static_cast<double>(n);
    if (place < 1.5 * lobe_lines || place + 2.0 >= static_cast<double>(powers.size())) break;
    const auto near = static_cast<std::size_t>(std::lround(place));
    std::size_t peak = near;
    for (const std::size_t i : {near - 1, near + 1}) peak = powers[i] > powers[peak] ? i : peak;
    const double below = std::log(powers[peak - 1]);
    const double here = std::log(powers[peak]);
    const double above = std::log(powers[peak + 1]);
    const double bend = 2.0 * here - below - above;
    const double shift = bend > 0.0 ? 0.5 * (above - below) / bend : 0.0;
    const double over_noise = beside.mean > 0.0 ? powers[peak] / beside.mean : 0.0;
    found.push_back({powers[peak], over_noise, static_cast<double>(peak) + shift - place});
  }
  return found;
}

void NoiseSpectrum::add(const Stretch& stretch, std::span<const double> powers) {
  const auto frames = static_cast<double>(stretch.frames());
  const double lines_per_Hz = frames / rate_Hz_;
  const double lines_per_order = stretch.turns_per_frame * frames;
  const auto first_frame = static_cast<double>(stretch.first_frame);
  Look look;
  look.first_frame = first_frame;
  look.end_frame = first_frame + frames;
  for (const Range& range : ranges_)
    look.bands.push_back(free_lines(powers, range.from_Hz * lines_per_Hz, range.to_Hz * lines_per_Hz, lines_per_order));
  for (std::size_t k = 1; k <= most_orders; ++k) {
    const double line = static_cast<double>(k) * lines_per_order;
    if (line + lines_per_order >= static_cast<double>(powers.size())) break;
    look.order_powers[k] = powers[static_cast<std::size_t>(std::lround(line))];
    if (near_mains(line / lines_per_Hz, (lobe_lines + 1.0) / lines_per_Hz)) continue;
    look.noise_beside[k] = free_lines(powers, line - beside_orders * lines_per_order,
                                      line + beside_orders * lines_per_order, lines_per_order)
                               .mean;
  }
  look.shares = lines_at_shares(powers, lines_per_order);
  looks_.push_back(std::move(look));
}

void NoiseSpectrum::keep_between(double first_frame, double end_frame) {
  std::erase_if(looks_,
                [&](const Look& look) { return look.first_frame < first_frame || look.end_frame > end_frame + 1.0; });
}

std::vector<NoiseBand> NoiseSpectrum::bands(double scale) const {
  std::vector<NoiseBand> found;
  for (std::size_t b = 0; b < ranges_.size(); ++b) {
    std::vector<double> means;
    double lines = 0.0;
    for (const Look& look : looks_) {
      if (look.bands[b].lines == 0.0) continue;
      means.push_back(look.bands[b].mean);
      lines += look.bands[b].lines;
    }
    if (means.empty()) continue;
    const auto [from_Hz, to_Hz] = ranges_[b];
    const double variance = median_of(means) * 2.0 * (to_Hz - from_Hz) / rate_Hz_;
    // of n independent values of an exponential distribution the quartile scatters by 1/(ln(4/3)·√(3n)) of itself, its
    // root by half of that
    const double u = 0.5 / (std::log(4.0 / 3.0) * std::sqrt(3.0 * lines / noise_bandwidth));
    found.push_back({from_Hz, to_Hz, scale * std::sqrt(variance), u});
  }
  return found;
}

double NoiseSpectrum::over_noise(std::size_t order) const {
  double power = 0.0;
  double noise = 0.0;
  for (const Look& look : looks_) {
    if (look.noise_beside[order] == 0.0) continue;
    power += look.order_powers[order];
    noise += look.noise_beside[order];
  }
  return noise > 0.0 ? power / noise : 0.0;
}

/// The mean of n values of an exponential distribution is beyond it in fewer than one of 5000 cases, for every n.
double NoiseSpectrum::sure_ratio() const {
  return 1.0 + 8.0 / std::sqrt(static_cast<double>(std::max<std::size_t>(looks_.size(), 1)));
}

std::optional<int> NoiseSpectrum::marks_a_turn() const {
  std::optional<int> best;
  double best_power = 0.0;
  for (std::size_t n = 2; n <= most_marks; ++n) {
    double power = 0.0;
    double order_1_power = 0.0;
    double off_lines = 0.0;
    bool everywhere = !looks_.empty();
    for (const Look& look : looks_) {
      everywhere = everywhere && n - 2 < look.shares.size();
      if (!everywhere) break;
      const Line& line = look.shares[n - 2];
      everywhere = line.over_noise > seen_share && std::abs(line.off_lines) < most_off_once;
      power += line.power;
      order_1_power += look.order_powers[1];
      off_lines += line.off_lines / static_cast<double>(looks_.size());
    }
    if (!everywhere || std::abs(off_lines) > most_off || power < outweighs * order_1_power) continue;
    if (power > best_power) best = static_cast<int>(n);
    best_power = std::max(best_power, power);
  }
  return best;
}

double broadband_rms(const std::vector<NoiseBand>& bands) {
  double square = 0.0;
  for (const NoiseBand& band : bands) square += band.rms * band.rms;
  return std::sqrt(square);
}

}  // namespace counterspot
