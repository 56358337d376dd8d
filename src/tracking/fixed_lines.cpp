#include "tracking/fixed_lines.hpp"

#include <Eigen/SparseCholesky>
#include <Eigen/SparseCore>
#include <algorithm>
#include <cmath>
#include <complex>
#include <optional>
#include <utility>

#include "algebra/median.hpp"
#include "tracking/spectrum.hpp"

namespace counterspot {
namespace {

using Complex = std::complex<double>;

constexpr double over_ground = 8.0;      // power of a line over that of the bins around
constexpr double least_coherence = 0.8;  // of the phase from block to block
constexpr double lobe_bins = 3.0;        // half width of a Hann-windowed line
constexpr std::size_t most_fixed_lines = 6;
constexpr double flat_orders = 3.0;  // so far above the highest order the samples at equal angles still hold a line
constexpr int masked_orders = 12;
constexpr double near_order = 0.3;  // of the speed: closer than this a line matters
constexpr double line_bandwidth_Hz = 0.2;
constexpr double order_bandwidth_Hz = 0.5;  // of the order that passes: the two together stay within the bridge
constexpr double cell_s = 0.1;

struct Block {
  std::vector<Complex> bins;  // up to half the rate
  double slowest_Hz = 1e300;
  double fastest_turning_Hz = 0.0;
  bool joined = false;  // half a block behind the one before
  double speed_Hz() const { return 0.5 * (slowest_Hz + fastest_turning_Hz); }
};

/// A run read at equal times: cubic through four samples at equal angles.
class TimeReader {
 public:
  TimeReader(const AngleRun& run, std::size_t sensor, std::size_t samples_per_turn)
      : run_(run), signal_(run.signals[sensor]), per_turn_(static_cast<double>(samples_per_turn)) {}

  /// Times must ascend. False where the run does not reach.
  bool read(double time_s, double& value) {
    while (turn_ < run_.turns.size() && run_.turns[turn_].end_s <= time_s) ++turn_;
    if (turn_ == run_.turns.size() || run_.turns[turn_].begin_s > time_s) return false;
    const AngleTurn& t = run_.turns[turn_];
    const double at = static_cast<double>(t.begin_sample) + per_turn_ * t.part_at(time_s);
    const auto i = static_cast<std::ptrdiff_t>(std::floor(at));
    if (i < 1 || i + 2 >= static_cast<std::ptrdiff_t>(signal_.size())) return false;
    const double* y = signal_.data() + i;
    const double p = at - static_cast<double>(i);
    value = y[0] + 0.5 * p *
                       (y[1] - y[-1] +
                        p * (2.0 * y[-1] - 5.0 * y[0] + 4.0 * y[1] - y[2] + p * (3.0 * (y[0] - y[1]) + y[2] - y[-1])));
    return true;
  }
  double speed_Hz() const { return run_.turns[turn_].speed_rad_s / turn_rad; }

 private:
  const AngleRun& run_;
  const std::vector<double>& signal_;
  double per_turn_;
  std::size_t turn_ = 0;
};

double seconds_of(const std::vector<AngleRun>& runs) {
  double sum = 0.0;
  for (const AngleRun& run : runs) sum += run.turns.back().end_s - run.turns.front().begin_s;
  return sum;
}

double fastest_turning_Hz(const std::vector<AngleRun>& runs) {
  double fastest = 0.0;
  for (const AngleRun& run : runs)
    for (const AngleTurn& turn : run.turns) fastest = std::max(fastest, turn.speed_rad_s / turn_rad);
  return fastest;
}

std::vector<Block> blocks_of(const std::vector<AngleRun>& runs, const LineFollower& follower, double rate_Hz,
                             std::size_t length) {
  std::vector<double> hann(length);
  for (std::size_t n = 0; n < length; ++n)
    hann[n] = 0.5 - 0.5 * std::cos(turn_rad * static_cast<double>(n) / static_cast<double>(length));
  Transform spectrum(length);
  const auto values = spectrum.values();
  std::vector<Block> blocks;
  for (const AngleRun& run : runs) {
    TimeReader reader(run, follower.sensor, follower.samples_per_turn);
    std::vector<double> held;
    std::vector<double> speeds;
    bool joined = false;
    const double end_s = run.turns.back().end_s;
    for (double n = 0.0; run.turns.front().begin_s + n / rate_Hz < end_s; ++n) {
      double value = 0.0;
      if (!reader.read(run.turns.front().begin_s + n / rate_Hz, value)) continue;
      held.push_back(value);
      speeds.push_back(reader.speed_Hz());
      if (held.size() < length) continue;
      Block block;
      double mean = 0.0;
      for (const double x : held) mean += x / static_cast<double>(length);
      for (std::size_t i = 0; i < length; ++i) values[i] = hann[i] * (held[i] - mean);
      spectrum.run();
      block.bins.assign(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(length / 2));
      block.slowest_Hz = *std::min_element(speeds.begin(), speeds.end());
      block.fastest_turning_Hz = *std::max_element(speeds.begin(), speeds.end());
      block.joined = joined;
      joined = true;
      blocks.push_back(std::move(block));
      held.erase(held.begin(), held.begin() + static_cast<std::ptrdiff_t>(length / 2));
      speeds.erase(speeds.begin(), speeds.begin() + static_cast<std::ptrdiff_t>(length / 2));
    }
  }
  return blocks;
}

/// Whether no whole order passes this bin in this block, and the samples hold it.
bool is_free(const Block& block, double frequency_Hz, double bin_Hz, double highest_order) {
  if (frequency_Hz > flat_orders * highest_order * block.slowest_Hz) return false;
  for (int m = 1; m <= masked_orders; ++m) {
    if (frequency_Hz > m * block.slowest_Hz - lobe_bins * bin_Hz &&
        frequency_Hz < m * block.fastest_turning_Hz + lobe_bins * bin_Hz)
      return false;
  }
  return true;
}

/// Speed and power of the blocks that are free at a bin, by speed.
std::vector<std::pair<double, double>> powers_seen(const std::vector<Block>& blocks, std::size_t q, double bin_Hz,
                                                   double highest_order) {
  std::vector<std::pair<double, double>> seen;
  for (const Block& block : blocks) {
    if (is_free(block, static_cast<double>(q) * bin_Hz, bin_Hz, highest_order))
      seen.emplace_back(block.speed_Hz(), std::norm(block.bins[q]));
  }
  std::sort(seen.begin(), seen.end());
  return seen;
}

/// What stands in a bin at slow speeds and at fast ones; 0 where too few blocks show it, or at one speed.
double standing_power(const std::vector<Block>& blocks, std::size_t q, double bin_Hz, double highest_order) {
  constexpr std::size_t fewest = 6;
  const auto seen = powers_seen(blocks, q, bin_Hz, highest_order);
  if (seen.size() < fewest) return 0.0;
  const std::size_t half = seen.size() / 2;
  const double slow_Hz = seen[half / 2].first;
  const double fast_Hz = seen[half + (seen.size() - half) / 2].first;
  if (static_cast<double>(q) * (fast_Hz / slow_Hz - 1.0) < 4.0) return 0.0;
  std::vector<double> slow;
  std::vector<double> fast;
  for (std::size_t i = 0; i < seen.size(); ++i) (i < half ? slow : fast).push_back(seen[i].second);
  return std::min(median_of(std::move(slow)), median_of(std::move(fast)));
}

/// Whether it is the same in most blocks: a resonance that rings on after it was passed dies away.
bool is_steady(const std::vector<Block>& blocks, std::size_t q, double bin_Hz, double highest_order) {
  constexpr double least_ratio = 0.2;  // of the powers that a fifth of the blocks are under and over
  std::vector<double> powers;
  for (const auto& [speed_Hz, power] : powers_seen(blocks, q, bin_Hz, highest_order)) powers.push_back(power);
  std::sort(powers.begin(), powers.end());
  const std::size_t fifth = powers.size() / 5;
  return powers[fifth] > least_ratio * powers[powers.size() - 1 - fifth];
}

/// How far the phase in a bin runs on from block to block, and the frequency that it says.
struct Advance {
  double coherence = 0.0;
  double frequency_Hz = 0.0;
};

Advance advance_of(const std::vector<Block>& blocks, std::size_t q, double bin_Hz, double highest_order) {
  const double frequency_Hz = static_cast<double>(q) * bin_Hz;
  Complex sum = 0.0;
  double sizes = 0.0;
  for (std::size_t b = 1; b < blocks.size(); ++b) {
    if (!blocks[b].joined || !is_free(blocks[b], frequency_Hz, bin_Hz, highest_order) ||
        !is_free(blocks[b - 1], frequency_Hz, bin_Hz, highest_order))
      continue;
    const Complex step = blocks[b].bins[q] * std::conj(blocks[b - 1].bins[q]) * (q % 2 == 0 ? 1.0 : -1.0);
    sum += step;
    sizes += std::abs(step);
  }
  if (sizes == 0.0) return {};
  return {std::abs(sum) / sizes, frequency_Hz + std::arg(sum) / pi * bin_Hz};
}

double ground_around(const std::vector<double>& powers, std::size_t q) {
  constexpr std::ptrdiff_t from = 4;
  constexpr std::ptrdiff_t to = 24;
  std::vector<double> around;
  for (std::ptrdiff_t d = from; d <= to; ++d) {
    for (const std::ptrdiff_t i : {static_cast<std::ptrdiff_t>(q) - d, static_cast<std::ptrdiff_t>(q) + d}) {
      if (i > 0 && i < static_cast<std::ptrdiff_t>(powers.size()) && powers[static_cast<std::size_t>(i)] > 0.0)
        around.push_back(powers[static_cast<std::size_t>(i)]);
    }
  }
  return around.size() < 6 ? 1e300 : median_of(std::move(around));
}

bool comes_near(const std::vector<AngleRun>& runs, const std::vector<double>& orders, double frequency_Hz) {
  for (const AngleRun& run : runs) {
    for (const AngleTurn& turn : run.turns) {
      const double speed_Hz = turn.speed_rad_s / turn_rad;
      for (const double k : orders)
        if (std::abs(frequency_Hz - k * speed_Hz) < near_order * speed_Hz) return true;
    }
  }
  return false;
}

/// Nearer than this to a whole order the two are not told apart: by the line's own bandwidth, and where the order
/// sweeps fast.
double passing_Hz(double rate_Hz_per_s) {
  return std::max(5.0 * line_bandwidth_Hz, 2.0 * std::sqrt(rate_Hz_per_s));
}

/// Speed gained a second around a turn, over turns enough to be free of the tach's jitter.
double rate_around(const AngleRun& run, std::size_t turn) {
  constexpr std::size_t reach = 10;
  const std::size_t from = turn > reach ? turn - reach : 0;
  const std::size_t to = std::min(run.turns.size() - 1, turn + reach);
  if (to == from) return 0.0;
  return std::abs(run.turns[to].speed_rad_s - run.turns[from].speed_rad_s) / turn_rad /
         (run.turns[to].middle_s() - run.turns[from].middle_s());
}

}  // namespace

/// The amplitude A e^{−jφ} of cos(2πft − φ), in cells of time.
struct Envelope {
  double begin_s = 0.0;
  std::vector<Complex> values;
  std::vector<Complex> passing;  ///< what an order of amplitude 1 that comes near makes of the value
  std::vector<double> weights;

  std::size_t cell(double time_s) const {
    const double at = std::floor((time_s - begin_s) / cell_s);
    return static_cast<std::size_t>(std::clamp(at, 0.0, static_cast<double>(values.size() - 1)));
  }
  Complex at(double time_s) const {
    const double place = std::clamp((time_s - begin_s) / cell_s - 0.5, 0.0, static_cast<double>(values.size() - 1));
    const auto i = std::min(static_cast<std::size_t>(place), values.size() - 2);
    const double part = place - static_cast<double>(i);
    return (1.0 - part) * values[i] + part * values[i + 1];
  }

  /// Vold–Kalman filter with two poles of values that are known in part, together with the order that passes: at the
  /// ends of a bridge there is nothing on one side to tell that it is no part of the line, and it would bend the bridge
  /// by a third of itself. False if none is known.
  bool smooth() {
    const auto n = static_cast<Eigen::Index>(values.size());
    const auto known = [](double w) { return w > 0.0; };
    const auto first = std::find_if(weights.begin(), weights.end(), known);
    if (first == weights.end() || n < 4) return false;
    const auto last = std::find_if(weights.rbegin(), weights.rend(), known).base() - 1;
    if (last - first < 3) return false;
    const Eigen::VectorXcd solution = line_and_order(n);
    const auto begin = first - weights.begin();
    const auto end = last - weights.begin();
    for (Eigen::Index i = 0; i < n; ++i)  // not drawn on where it was never seen
      values[static_cast<std::size_t>(i)] = solution(2 * std::clamp<Eigen::Index>(i, begin, end));
    return true;
  }

  /// What bridges as long as those there are make of the line beside them, where it is seen: root mean square of one
  /// part over their length, the largest of them. 0 if there is none, or no room for another.
  /// @param whole the same, smoothed.
  double error_of_bridges(const Envelope& whole) const {
    double largest = 0.0;
    for (const auto& [begin, end] : bridges()) {
      const std::size_t length = end - begin;
      for (const std::size_t from : {begin - std::min(begin, 2 * length), end + length}) {
        if (from < length / 2 || from + length + length / 2 > values.size() || !all_seen(from, from + length)) continue;
        Envelope bridged = *this;
        std::fill_n(bridged.weights.begin() + static_cast<std::ptrdiff_t>(from), length, 0.0);
        if (!bridged.smooth()) continue;
        double square = 0.0;
        for (std::size_t c = from; c < from + length; ++c) square += std::norm(bridged.values[c] - whole.values[c]);
        largest = std::max(largest, square / static_cast<double>(length));
      }
    }
    return std::sqrt(0.5 * largest);
  }

 private:
  bool all_seen(std::size_t from, std::size_t to) const {
    return std::all_of(weights.begin() + static_cast<std::ptrdiff_t>(from),
                       weights.begin() + static_cast<std::ptrdiff_t>(to), [](double w) { return w > 0.0; });
  }

  /// Cells that are not known between others that are.
  std::vector<std::pair<std::size_t, std::size_t>> bridges() const {
    std::vector<std::pair<std::size_t, std::size_t>> found;
    std::optional<std::size_t> before;
    for (std::size_t c = 0; c < weights.size(); ++c) {
      if (weights[c] == 0.0) continue;
      if (before && c > *before + 2) found.emplace_back(*before + 1, c);
      before = c;
    }
    return found;
  }

  /// Cell by cell the line and the order beside it, so that the matrix is banded.
  Eigen::VectorXcd line_and_order(Eigen::Index n) const {
    constexpr double d[3] = {1.0, -2.0, 1.0};
    constexpr double far_away = 1e-6;  // an order that is nowhere near is 0
    const double structure[2] = {vold_kalman_weight(2, line_bandwidth_Hz * 2.0 * cell_s),
                                 vold_kalman_weight(2, order_bandwidth_Hz * 2.0 * cell_s)};
    std::vector<Eigen::Triplet<Complex>> entries;
    Eigen::VectorXcd right(2 * n);
    for (Eigen::Index i = 0; i < n; ++i) {
      const auto c = static_cast<std::size_t>(i);
      const double w = weights[c];
      entries.emplace_back(2 * i, 2 * i, w);
      entries.emplace_back(2 * i + 1, 2 * i, w * std::conj(passing[c]));
      entries.emplace_back(2 * i + 1, 2 * i + 1, w * std::norm(passing[c]) + far_away);
      right.segment<2>(2 * i) << w * values[c], w * std::conj(passing[c]) * values[c];
      for (Eigen::Index part = 0; part < 2; ++part)
        for (int a = 0; i + 2 < n && a < 3; ++a)
          for (int b = 0; b <= a; ++b)
            entries.emplace_back(2 * (i + a) + part, 2 * (i + b) + part, structure[part] * d[a] * d[b]);
    }
    Eigen::SparseMatrix<Complex> normal(2 * n, 2 * n);
    normal.setFromTriplets(entries.begin(), entries.end());
    const Eigen::SimplicialLDLT<Eigen::SparseMatrix<Complex>, Eigen::Lower, Eigen::NaturalOrdering<int>> factors(
        normal);
    return factors.solve(right);
  }
};

namespace {

/// Times of the samples of a run that turns cover.
template <typename Work>
void for_samples(const AngleRun& run, const AngleTurn& turn, std::size_t samples_per_turn, Work work) {
  const auto n = static_cast<double>(samples_per_turn);
  for (std::size_t i = 0; i < samples_per_turn; ++i) {
    const std::int64_t sample = turn.begin_sample + static_cast<std::int64_t>(i);
    if (sample < 0 || sample >= static_cast<std::int64_t>(run.size())) continue;
    work(static_cast<std::size_t>(sample), turn.time_s(static_cast<double>(i) / n));
  }
}

Complex line_of_1(double frequency_Hz, double time_s) {
  return std::polar(1.0, turn_rad * std::remainder(frequency_Hz * time_s, 1.0));
}

}  // namespace

std::vector<double> LineFollower::find(const std::vector<AngleRun>& runs) const {
  const double highest = *std::max_element(orders.begin(), orders.end());
  const double rate_Hz = 4.0 * highest * fastest_turning_Hz(runs);
  const double block_s = std::clamp(seconds_of(runs) / 12.0, 0.5, 4.0);
  const auto length = 2 * static_cast<std::size_t>(0.5 * block_s * rate_Hz);
  if (length < 32) return {};
  const double bin_Hz = rate_Hz / static_cast<double>(length);
  const std::vector<Block> blocks = blocks_of(runs, *this, rate_Hz, length);
  std::vector<double> powers(length / 2, 0.0);
  for (std::size_t q = 3; q + 3 < powers.size(); ++q) powers[q] = standing_power(blocks, q, bin_Hz, highest);
  std::vector<std::pair<double, double>> found;  // power, frequency
  for (std::size_t q = 4; q + 4 < powers.size(); ++q) {
    if (powers[q] <= 0.0 || powers[q] < powers[q - 1] || powers[q] <= powers[q + 1]) continue;
    if (powers[q] < over_ground * ground_around(powers, q)) continue;
    const Advance advance = advance_of(blocks, q, bin_Hz, highest);
    if (!is_steady(blocks, q, bin_Hz, highest) || advance.coherence < least_coherence ||
        !comes_near(runs, orders, advance.frequency_Hz))
      continue;
    found.emplace_back(powers[q], advance.frequency_Hz);
  }
  std::sort(found.rbegin(), found.rend());
  found.resize(std::min(found.size(), most_fixed_lines));
  std::vector<double> frequencies_Hz;
  for (const auto& [power, frequency_Hz] : found) frequencies_Hz.push_back(frequency_Hz);
  return frequencies_Hz;
}

Envelope LineFollower::seen_of(const std::vector<AngleRun>& runs, FixedLine& line) const {
  Envelope envelope;
  envelope.begin_s = runs.front().turns.front().begin_s;
  const double end_s = runs.back().turns.back().end_s;
  envelope.values.resize(static_cast<std::size_t>((end_s - envelope.begin_s) / cell_s) + 1);
  envelope.passing.resize(envelope.values.size());
  envelope.weights.resize(envelope.values.size());
  const double frequency_Hz = line.frequency_Hz;
  for (const AngleRun& run : runs) {
    for (std::size_t t = 0; t < run.turns.size(); ++t) {
      const AngleTurn& turn = run.turns[t];
      const double speed_Hz = turn.speed_rad_s / turn_rad;
      const double order = std::max(1.0, std::round(frequency_Hz / speed_Hz));
      const double apart_Hz = passing_Hz(order * rate_around(run, t));
      const bool seen = std::abs(frequency_Hz - order * speed_Hz) > apart_Hz &&
                        frequency_Hz < flat_orders * *std::max_element(orders.begin(), orders.end()) * speed_Hz;
      for (const double k : orders) {
        if (std::abs(frequency_Hz - k * speed_Hz) < apart_Hz) line.passing_Hz = std::max(line.passing_Hz, apart_Hz);
      }
      if (!seen || !run.holds(turn, samples_per_turn)) continue;
      Complex sum = 0.0;
      Complex of_order = 0.0;
      const double step_rad = order * turn_rad / static_cast<double>(samples_per_turn);
      for_samples(run, turn, samples_per_turn, [&](std::size_t i, double time_s) {
        const Complex back = std::conj(line_of_1(frequency_Hz, time_s));
        const auto along = static_cast<double>(static_cast<std::int64_t>(i) - turn.begin_sample);
        sum += run.signals[sensor][i] * back;
        of_order += std::polar(1.0, step_rad * along) * back;
      });
      const std::size_t c = envelope.cell(turn.middle_s());
      const double weight = (turn.end_s - turn.begin_s) / cell_s;
      envelope.values[c] += weight * 2.0 * sum / static_cast<double>(samples_per_turn);
      envelope.passing[c] += weight * of_order / static_cast<double>(samples_per_turn);
      envelope.weights[c] += weight;
    }
  }
  for (std::size_t c = 0; c < envelope.values.size(); ++c) {
    if (envelope.weights[c] == 0.0) continue;
    envelope.values[c] /= envelope.weights[c];
    envelope.passing[c] /= envelope.weights[c];
  }
  return envelope;
}

void LineFollower::subtract(const Envelope& envelope, double frequency_Hz, std::vector<AngleRun>& runs) const {
  for (AngleRun& run : runs) {
    for (const AngleTurn& turn : run.turns) {
      for_samples(run, turn, samples_per_turn, [&](std::size_t i, double time_s) {
        run.signals[sensor][i] -= (envelope.at(time_s) * line_of_1(frequency_Hz, time_s)).real();
      });
    }
  }
}

std::optional<FixedLine> LineFollower::take_off(double frequency_Hz, std::vector<AngleRun>& runs) const {
  FixedLine line;
  line.frequency_Hz = frequency_Hz;
  // A turn holds the line and, as it is no whole number of its cycles, some of the line's mirror image: a hundredth of
  // it at the ends of a bridge, and nothing worth it the second time.
  for (int pass = 0; pass < 2; ++pass) {
    Envelope envelope = seen_of(runs, line);
    const Envelope seen = envelope;
    if (!envelope.smooth()) return std::nullopt;
    if (pass == 0) {
      std::vector<double> sizes;
      for (const Complex& value : envelope.values) sizes.push_back(std::abs(value));
      line.amplitude = median_of(std::move(sizes));
      if (line.passing_Hz > 0.0) line.u_bridged = seen.error_of_bridges(envelope);
    }
    subtract(envelope, frequency_Hz, runs);
  }
  return line;
}

}  // namespace counterspot
