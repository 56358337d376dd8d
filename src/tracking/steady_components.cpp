#include "tracking/steady_components.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <numeric>

#include "tracking/spectrum.hpp"

namespace counterspot {
namespace {

using Complex = std::complex<double>;
using Eigen::Index;

constexpr std::size_t most_components = 8;
constexpr double lowest_order = 0.1;
constexpr double fewest_cycles = 4.0;     // of a component in the stretch
constexpr double parted_cycles = 3.0;     // of drift: then line and order are told apart wherever they lie
constexpr double near_cycles = 4.0;       // of a whole order: the peak is drawn away from it, and is refined
constexpr double surely_apart = 10.0;     // of the two powers, over the noise
constexpr double share_apart = 0.02;      // of the larger
constexpr std::size_t parts = 8;          // of the spin, over which a steady component holds its amplitude
constexpr double unsteady_share = 0.2;    // variance of the parts over the square of their mean
constexpr std::size_t blocks = 128;       // of a demodulated stretch
constexpr double set_aside_cycles = 4.0;  // around a peak that is no steady component

enum class Domain { time, angle };

/// Columns that are taken off first, and what projects them out.
class Basis {
 public:
  Basis(const SlowStretch& stretch, const std::vector<double>& asked, double highest_order) : stretch_(stretch) {
    for (double k = 1.0; k <= highest_order; k += 1.0) orders_.push_back(k);
    for (const double k : asked) {
      if (std::find(orders_.begin(), orders_.end(), k) == orders_.end() && k <= highest_order) orders_.push_back(k);
    }
    const Index n = stretch.size();
    std::vector<double> follow;
    for (const double k : orders_) {
      if (std::find(asked.begin(), asked.end(), k) != asked.end()) follow.push_back(k);
    }
    columns_.resize(n, static_cast<Index>(2 + 2 * orders_.size() + 2 * follow.size()));
    columns_.col(0).setOnes();
    columns_.col(1).setLinSpaced(-1.0, 1.0);
    const Eigen::VectorXd departure = departures();
    Index at = 2;
    for (std::size_t o = 0; o < orders_.size(); ++o, at += 2) {
      const double k = orders_[o];
      if (o == 0 || k != orders_[o - 1] + 1.0) {
        columns_.col(at) = (k * stretch.angles_rad.array()).cos();
        columns_.col(at + 1) = (k * stretch.angles_rad.array()).sin();
      } else {  // e^{jkθ} = e^{j(k−1)θ}·e^{jθ}
        const auto cosine = columns_.col(2).array(), sine = columns_.col(3).array();
        const auto cosine_below = columns_.col(at - 2).array(), sine_below = columns_.col(at - 1).array();
        columns_.col(at) = cosine_below * cosine - sine_below * sine;
        columns_.col(at + 1) = cosine_below * sine + sine_below * cosine;
      }
    }
    for (const double k : follow) {
      const Index of = 2 + 2 * (std::find(orders_.begin(), orders_.end(), k) - orders_.begin());
      columns_.col(at++) = columns_.col(of).cwiseProduct(departure);
      columns_.col(at++) = columns_.col(of + 1).cwiseProduct(departure);
    }
    Eigen::MatrixXd gram = Eigen::MatrixXd::Zero(columns_.cols(), columns_.cols());
    gram.selfadjointView<Eigen::Lower>().rankUpdate(columns_.transpose());
    gram.diagonal().array() += 1e-9 * static_cast<double>(n);  // a speed that does not change at all
    gram = gram.selfadjointView<Eigen::Lower>();
    normal_.compute(gram);
  }

  const std::vector<double>& orders() const { return orders_; }
  Eigen::VectorXd coefficients(const Eigen::VectorXd& x) const { return normal_.solve(columns_.transpose() * x); }
  Eigen::VectorXd without(const Eigen::VectorXd& x) const { return x - columns_ * coefficients(x); }

 private:
  /// Relative speed, mean taken off, where it says something.
  Eigen::VectorXd departures() const {
    const Index n = stretch_.size();
    const auto& angle = stretch_.angles_rad;
    const Index reach = std::max<Index>(1, static_cast<Index>(0.5 * static_cast<double>(n) / stretch_.turns()));
    const double mean = (angle(n - 1) - angle(0)) / static_cast<double>(n - 1);
    Eigen::VectorXd d(n);
    for (Index i = 0; i < n; ++i) {
      const Index a = std::max<Index>(0, i - reach);
      const Index b = std::min(n - 1, i + reach);
      d(i) = (angle(b) - angle(a)) / static_cast<double>(b - a) / mean - 1.0;
    }
    d.array() -= d.mean();
    const double largest = d.cwiseAbs().maxCoeff();
    return largest > 0.0 ? Eigen::VectorXd(d / largest) : d;
  }

  const SlowStretch& stretch_;
  std::vector<double> orders_;
  Eigen::MatrixXd columns_;
  Eigen::LDLT<Eigen::MatrixXd> normal_;
};

/// A component as it is looked for: `place` in cycles over the stretch, over time or over the angle.
struct ComponentCandidate {
  Domain domain = Domain::time;
  double cycles = 0.0;
  double power = 0.0;  // Hann-windowed
  double over_noise = 0.0;
  Complex value;  // against the stretch's own coordinate, see Search::phase
};

/// By how much the speed drifts, relative, told from how far the angle bows from a straight line: a steady drift d bows
/// it by d/8.
double drift_of_angle(const SlowStretch& stretch) {
  const auto& angle = stretch.angles_rad;
  const auto last = static_cast<double>(stretch.size() - 1);
  double largest = 0.0;
  for (Index i = 0; i < stretch.size(); ++i) {
    const double even = static_cast<double>(i) / last;
    largest = std::max(largest, std::abs((angle(i) - angle(0)) / (angle(stretch.size() - 1) - angle(0)) - even));
  }
  return 8.0 * largest;
}

Eigen::VectorXd hann_window(Index count) {
  Eigen::VectorXd window(count);
  for (Index i = 0; i < count; ++i)
    window(i) = 0.5 - 0.5 * std::cos(turn_rad * (static_cast<double>(i) + 0.5) / static_cast<double>(count));
  return window;
}

/// One sensor's search.
class Search {
 public:
  /// @param window Hann's. @param spectrum padded with zeros to at least twice the stretch.
  Search(const SlowStretch& stretch, const Basis& basis, const Eigen::VectorXd& window, Transform& spectrum,
         const Eigen::VectorXd& x, double highest_order)
      : stretch_(stretch), basis_(basis), window_(window), spectrum_(spectrum), highest_order_(highest_order), x_(x) {
    const auto n = static_cast<double>(stretch.size());
    turns_ = stretch.turns() * n / (n - 1.0);  // of n steps
    drift_ = drift_of_angle(stretch);
    clean_ = basis.without(x_);
    rest_ = clean_;
    rounding_ = 1e-12 * x_.squaredNorm();
  }

  void run() {
    while (found_.size() < most_components) {
      const auto candidate = strongest();
      if (!candidate) break;
      consider(*candidate);
    }
  }

  FoundComponents result(const std::vector<double>& asked) {
    FoundComponents all;
    const Eigen::VectorXd orders = basis_.coefficients(x_ - modelled());
    double largest = 0.0;
    for (std::size_t o = 0; o < basis_.orders().size(); ++o) {
      const double k = basis_.orders()[o];
      const auto at = static_cast<Index>(2 + 2 * o);
      const Complex value = Complex(orders(at), orders(at + 1)) / stretch_.passed(k * turns_per_frame());
      largest = std::max(largest, std::abs(value));
      if (std::find(asked.begin(), asked.end(), k) == asked.end()) all.whole_orders.push_back({0.0, k, value});
    }
    std::stable_sort(found_.begin(), found_.end(), [](const auto& a, const auto& b) {
      return std::abs(a.candidate.value) > std::abs(b.candidate.value);
    });
    for (const Found& found : found_) {
      const FoundComponent component = as_component(found);
      if (std::abs(component.component.value) >= least_share_of_largest * largest) all.steady.push_back(component);
    }
    return all;
  }

 private:
  struct Found {
    ComponentCandidate candidate;
    Steadiness steady = Steadiness::either;
  };

  double turns_per_frame() const { return turns_ / (static_cast<double>(stretch_.size()) * stretch_.step_frames); }

  /// Phase of a component at a value, from the first one on.
  double phase(Domain domain, double cycles, Index i) const {
    if (domain == Domain::time)
      return turn_rad * cycles * static_cast<double>(i) / static_cast<double>(stretch_.size());
    return cycles / turns_ * (stretch_.angles_rad(i) - stretch_.angles_rad(0));
  }

  /// Blocks of the sum Σ x e^{jφ}, and where each lies, 0 to 1.
  struct Blocks {
    std::array<Complex, blocks> sums{};
    std::array<double, blocks> places{};
  };
  Blocks demodulated(const Eigen::VectorXd& x, Domain domain, double cycles) const {
    Blocks out;
    const Index n = stretch_.size();
    const double whole = turn_rad * turns_;
    Index i = 0;
    for (std::size_t b = 0; b < blocks; ++b) {
      const Index end = n * static_cast<Index>(b + 1) / static_cast<Index>(blocks);
      const Index middle = (i + end) / 2;
      out.places[b] = domain == Domain::time
                          ? (0.5 * static_cast<double>(i + end - 1)) / static_cast<double>(n)
                          : (stretch_.angles_rad(std::min(middle, n - 1)) - stretch_.angles_rad(0)) / whole;
      for (; i < end; ++i) out.sums[b] += x(i) * std::polar(1.0, phase(domain, cycles, i));
    }
    return out;
  }

  /// The highest Hann-windowed power within ± `reach` cycles of a place.
  ComponentCandidate highest(Domain domain, double cycles, double reach) const {
    const Blocks b = demodulated(rest_.cwiseProduct(window_), domain, cycles);
    const auto sum_at = [&](double off) {
      Complex sum = 0.0;
      for (std::size_t i = 0; i < blocks; ++i) sum += b.sums[i] * std::polar(1.0, turn_rad * off * b.places[i]);
      return sum;
    };
    double best = 0.0;
    double power = -1.0;
    for (double step = 0.1, centre = 0.0; step > 1e-3; step *= 0.1, reach = 10.0 * step) {
      for (double off = centre - reach; off <= centre + reach; off += step) {
        const double here = std::norm(sum_at(off));
        if (here > power) {
          power = here;
          best = off;
        }
      }
      centre = best;
    }
    ComponentCandidate candidate{domain, cycles + best, power, 0.0, {}};
    candidate.value = 2.0 * sum_at(best) / window_.sum();
    return candidate;
  }

  bool set_aside(double cycles) const {
    return std::any_of(aside_.begin(), aside_.end(),
                       [&](double other) { return std::abs(other - cycles) < set_aside_cycles; });
  }

  /// Whether a place is too near to an order or to what was found. A line that the drift of the speed parts from an
  /// order is told from it even where the two cross.
  bool beside(Domain domain, double cycles, double distance) const {
    const bool parted = drift_cycles(cycles) > parted_cycles;
    if (domain == Domain::angle || !parted) {
      for (const double k : basis_.orders()) {
        if (std::abs(cycles - k * turns_) < distance) return true;
      }
    }
    return std::any_of(found_.begin(), found_.end(), [&](const Found& f) {
      return (f.candidate.domain == domain || !parted) && std::abs(f.candidate.cycles - cycles) < distance;
    });
  }

  /// Where a peak may be taken.
  bool allowed(Domain domain, double cycles) const {
    const double order = cycles / turns_;
    return cycles >= fewest_cycles && order >= lowest_order && order <= highest_order_ && !set_aside(cycles) &&
           !beside(domain, cycles, least_cycles_apart);
  }

  /// What is left, at equal angles: cubic between the values.
  Eigen::VectorXd over_angle() const {
    const Index n = stretch_.size();
    const auto& angle = stretch_.angles_rad;
    Eigen::VectorXd out(n);
    const double step = (angle(n - 1) - angle(0)) / static_cast<double>(n - 1);
    Index at = 0;
    for (Index i = 0; i < n; ++i) {
      const double wanted = angle(0) + step * static_cast<double>(i);
      while (at + 2 < n && angle(at + 1) <= wanted) ++at;
      const double t = (wanted - angle(at)) / (angle(at + 1) - angle(at));
      const double before = rest_(std::max<Index>(at - 1, 0));
      const double behind = rest_(std::min(at + 2, n - 1));
      const double a = rest_(at);
      const double b = rest_(at + 1);
      out(i) = -t * (t - 1.0) * (t - 2.0) / 6.0 * before + (t * t - 1.0) * (t - 2.0) / 2.0 * a -
               t * (t + 1.0) * (t - 2.0) / 2.0 * b + t * (t * t - 1.0) / 6.0 * behind;
    }
    return out;
  }

  /// Both spectra in one transform: time in the real part, angle in the imaginary one.
  std::optional<ComponentCandidate> strongest() {
    const auto n = static_cast<std::size_t>(stretch_.size());
    const Eigen::VectorXd angle = over_angle();
    const std::span<Complex> bins = spectrum_.values();
    for (std::size_t i = 0; i < n; ++i) {
      const auto at = static_cast<Index>(i);
      bins[i] = window_(at) * Complex(rest_(at), angle(at));
    }
    std::fill(bins.begin() + static_cast<std::ptrdiff_t>(n), bins.end(), Complex());
    spectrum_.run();
    const std::size_t length = bins.size();
    std::vector<double> time(length / 2);
    std::vector<double> turned(length / 2);
    for (std::size_t q = 0; q < length / 2; ++q) {
      const Complex plus = bins[q];
      const Complex minus = std::conj(bins[(length - q) & (length - 1)]);
      time[q] = 0.25 * std::norm(plus + minus);
      turned[q] = 0.25 * std::norm(plus - minus);
    }
    const double per_cycle = static_cast<double>(length) / static_cast<double>(n);
    const auto allow = [&](Domain domain) { return [&, domain](double cycles) { return allowed(domain, cycles); }; };
    const double highest_cycles = std::min(highest_order_ * turns_, 0.5 * static_cast<double>(n));
    const auto peak = strongest_peak(time, per_cycle, highest_cycles, rounding_, allow(Domain::time));
    const auto turning = strongest_peak(turned, per_cycle, highest_cycles, rounding_, allow(Domain::angle));
    const bool angular = turning && (!peak || turning->over_noise > 1.05 * peak->over_noise);
    const auto& best = angular ? turning : peak;
    if (!best || best->over_noise < least_over_noise) return std::nullopt;
    ComponentCandidate candidate;
    candidate.domain = angular ? Domain::angle : Domain::time;
    candidate.cycles = best->cycles;
    candidate.over_noise = best->over_noise;
    return candidate;
  }

  /// Part by part, the amplitude and phase must be the same beyond what noise makes of it.
  bool steady(const ComponentCandidate& c) const {
    const Blocks b = demodulated(rest_, c.domain, c.cycles);
    std::array<Complex, parts> sums{};
    for (std::size_t i = 0; i < blocks; ++i) sums[i * parts / blocks] += b.sums[i];
    const Complex mean = std::accumulate(sums.begin(), sums.end(), Complex()) / static_cast<double>(parts);
    double variance = 0.0;
    for (const Complex& sum : sums) variance += std::norm(sum - mean) / static_cast<double>(parts);
    // Of n parts each has 1/n of the noise's power and 1/n² of the component's; the window's band is 1.5 wide.
    const double noise = static_cast<double>(parts) * std::norm(mean) / (1.5 * c.over_noise);
    return variance - noise < unsteady_share * std::norm(mean);
  }

  void consider(const ComponentCandidate& seen) {
    const double smear = 2.0 + 0.5 * drift_cycles(seen.cycles);
    ComponentCandidate here = highest(seen.domain, seen.cycles, 0.6);
    ComponentCandidate other =
        highest(seen.domain == Domain::time ? Domain::angle : Domain::time, seen.cycles, std::min(smear, 20.0));
    here.over_noise = seen.over_noise;
    const double noise = here.power / here.over_noise;
    other.over_noise = other.power / noise;
    Found found{here, Steadiness::either};
    const double more = here.power - other.power;
    const ComponentCandidate& stronger = more < 0.0 ? other : here;
    if (std::abs(more) > surely_apart * noise && std::abs(more) > share_apart * stronger.power) {
      found = {stronger, stronger.domain == Domain::time ? Steadiness::in_time : Steadiness::in_angle};
    } else if (here.domain == Domain::angle) {
      found.candidate = other;  // said as a frequency
    }
    // Whether it holds its amplitude is asked where it stands out more: in the other domain the drift turns its phase.
    if (!steady(stronger) || beside(found.candidate.domain, found.candidate.cycles, 0.5 * least_cycles_apart)) {
      aside_.push_back(seen.cycles);
      aside_.push_back(found.candidate.cycles);
      return;
    }
    found_.push_back(found);
    refine();
  }

  /// Cycles by which the drift of the speed smears a component.
  double drift_cycles(double cycles) const { return drift_ * cycles; }

  bool is_near(const Found& found) const {
    return std::any_of(basis_.orders().begin(), basis_.orders().end(),
                       [&](double k) { return std::abs(found.candidate.cycles - k * turns_) < near_cycles; });
  }

  /// All amplitudes jointly, beside the orders; and the place of those that an order draws.
  void refine() {
    const Index n = stretch_.size();
    const bool moves = std::any_of(found_.begin(), found_.end(), [&](const Found& f) { return is_near(f); });
    for (int pass = 0; pass < (moves ? 6 : 1); ++pass) {
      const auto count = static_cast<Index>(found_.size());
      Eigen::MatrixXd columns(n, (moves ? 3 : 2) * count);
      for (Index f = 0; f < count; ++f) {
        const ComponentCandidate& c = found_[static_cast<std::size_t>(f)].candidate;
        const double whole = phase(c.domain, 1.0, n - 1);
        for (Index i = 0; i < n; ++i) {
          const double at = phase(c.domain, c.cycles, i);
          columns(i, 2 * f) = std::cos(at);
          columns(i, 2 * f + 1) = std::sin(at);
          // d/dcycles of Re(value e^{−jφ}) about the middle of the stretch
          if (moves) {
            const double lever = phase(c.domain, 1.0, i) - 0.5 * whole;
            columns(i, 2 * count + f) =
                lever * (c.value.imag() * columns(i, 2 * f) - c.value.real() * columns(i, 2 * f + 1));
          }
        }
      }
      for (Index c = 0; c < columns.cols(); ++c) columns.col(c) = basis_.without(columns.col(c));
      Eigen::MatrixXd gram = columns.transpose() * columns;
      gram.diagonal() *= 1.0 + 1e-9;
      const Eigen::VectorXd solution = gram.ldlt().solve(columns.transpose() * clean_);
      double moved = 0.0;
      for (Index f = 0; f < count; ++f) {
        ComponentCandidate& c = found_[static_cast<std::size_t>(f)].candidate;
        c.value = {solution(2 * f), solution(2 * f + 1)};
        if (!moves || !is_near(found_[static_cast<std::size_t>(f)])) continue;
        const double step = std::clamp(solution(2 * count + f), -0.3, 0.3);
        c.cycles += step;
        c.value *= std::polar(1.0, 0.5 * step * phase(c.domain, 1.0, n - 1));
        moved = std::max(moved, std::abs(step));
      }
      if (moved < 1e-3 && pass > 0) break;
    }
    rest_ = basis_.without(x_ - modelled());
  }

  Eigen::VectorXd modelled() const {
    Eigen::VectorXd sum = Eigen::VectorXd::Zero(stretch_.size());
    for (const Found& found : found_) {
      const ComponentCandidate& c = found.candidate;
      for (Index i = 0; i < stretch_.size(); ++i)
        sum(i) += (c.value * std::polar(1.0, -phase(c.domain, c.cycles, i))).real();
    }
    return sum;
  }

  FoundComponent as_component(const Found& found) const {
    const ComponentCandidate& c = found.candidate;
    FoundComponent out;
    out.steady = found.steady;
    out.mean_order = c.cycles / turns_;
    const double frames = static_cast<double>(stretch_.size()) * stretch_.step_frames;
    const double cycles_per_frame = c.cycles / frames;
    const Complex value = c.value / stretch_.passed(cycles_per_frame);
    // from the stretch's own beginning to that of the recording
    if (c.domain == Domain::time) {
      out.component.cycles_per_frame = cycles_per_frame;
      out.component.value = value * std::polar(1.0, turn_rad * std::fmod(cycles_per_frame * stretch_.first_frame, 1.0));
    } else {
      out.component.order = out.mean_order;
      out.component.value = value * std::polar(1.0, out.mean_order * stretch_.angles_rad(0));
    }
    return out;
  }

  const SlowStretch& stretch_;
  const Basis& basis_;
  const Eigen::VectorXd& window_;
  Transform& spectrum_;
  double highest_order_;
  Eigen::VectorXd x_;
  Eigen::VectorXd clean_;  // without the orders
  Eigen::VectorXd rest_;   // and without what was found
  double turns_ = 0.0;
  double rounding_ = 0.0;
  double drift_ = 0.0;  // of the speed, relative
  std::vector<Found> found_;
  std::vector<double> aside_;
};

}  // namespace

std::vector<FoundComponents> find_components(const SlowStretch& stretch, const std::vector<double>& asked,
                                             double highest_order) {
  const Basis basis(stretch, asked, highest_order);
  const Eigen::VectorXd window = hann_window(stretch.size());
  Transform spectrum(std::bit_ceil(2 * static_cast<std::size_t>(stretch.size())));
  std::vector<FoundComponents> all;
  for (Index s = 0; s < stretch.values.cols(); ++s) {
    Search search(stretch, basis, window, spectrum, stretch.values.col(s), highest_order);
    search.run();
    all.push_back(search.result(asked));
  }
  return all;
}

}  // namespace counterspot
