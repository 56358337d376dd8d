#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <tuple>
#include <utility>

#include "counterspot/placement/fitting.hpp"
#include "placement/plane_loads.hpp"
#include "placement/scaled_aim.hpp"

namespace counterspot {

namespace {

constexpr double finest_resolution = 1e-9;  // of the limit; rounding makes nothing of what lies closer together

struct Candidate {
  double step = INFINITY;  // which step of resolution the worst ratio is in
  int pieces = 0;
  double weighed_kg = 0.0;
  double ratio = INFINITY;
  std::vector<Load> loads;  // one per open plane

  bool better_than(const Candidate& other) const {
    return std::tie(step, pieces, weighed_kg, ratio) <
           std::tie(other.step, other.pieces, other.weighed_kg, other.ratio);
  }
};

class Search {
 public:
  Search(const FittingProblem& problem, const FittingOptions& options)
      : problem_(problem), options_(options), aim_(scaled_aim(problem.aim, problem.planes)) {
    resolution_ = std::max(options.resolution, finest_resolution);
    for (std::size_t c = 0; c <= aim_.planes.size(); ++c) bounds_.emplace_back(aim_.a, static_cast<int>(c));
    for (int plane : aim_.planes) loads_.emplace_back(problem, plane);
    least_step_ = step_of(bounds_[0].least_ratio(aim_.b));
  }

  FittingSummary run() {
    std::vector<int> most;
    int all = 0;
    for (int plane : aim_.planes) {
      most.push_back(std::min(problem_.planes[static_cast<std::size_t>(plane)].most_pieces, most_pieces_at_a_plane));
      all += most.back();
    }
    // First a good arrangement, so that the proof has small circles to search; then the proof, fewest pieces first.
    for (pieces_ = 0; pieces_ <= all && best_.step > least_step_; ++pieces_)
      share_out(most, 0, pieces_, [this](const std::vector<int>& shares) { start_near_ideal(shares); });
    for (pieces_ = 0; pieces_ <= all && !done(); ++pieces_)
      share_out(most, 0, pieces_, [this](const std::vector<int>& shares) { search(shares); });
    return summary();
  }

 private:
  double step_of(double ratio) const { return std::floor(ratio / resolution_); }
  std::size_t columns() const { return aim_.planes.size(); }

  bool go_on() {
    if (!stopped_ && options_.out_of_time && ++asked_ % 256 == 0) stopped_ = options_.out_of_time();
    return !stopped_;
  }

  bool done() { return !go_on() || (pieces_ > best_.pieces && best_.step <= least_step_); }

  // Every way to share `left` pieces out among the columns.
  template <typename Use>
  void share_out(const std::vector<int>& most, std::size_t c, int left, Use use, std::vector<int> shares = {}) {
    if (c == columns()) {
      if (left == 0) use(shares);
      return;
    }
    for (int n = 0; n <= std::min(left, most[c]); ++n) {
      shares.push_back(n);
      share_out(most, c + 1, left - n, use, shares);
      shares.pop_back();
    }
  }

  // Better by a step, whatever it takes; or of the same step with fewer pieces, or lighter with as many.
  enum class Better { by_a_step, in_the_step };
  double worth_finding(Better better) const {
    return (better == Better::by_a_step ? best_.step : best_.step + 1.0) * resolution_;
  }
  double most_weight(Better better) const {
    return better == Better::in_the_step && best_.pieces == pieces_ ? best_.weighed_kg : INFINITY;
  }

  void search(const std::vector<int>& shares) {
    if (best_.step > least_step_) examine(shares, Better::by_a_step);
    if (pieces_ <= best_.pieces) examine(shares, Better::in_the_step);
  }

  // True if some plane cannot come near enough; the nearest load is known exactly up to two pieces.
  bool hopeless(const std::vector<int>& shares, double t) {
    const double rho_squared = bounds_[0].rho_squared(aim_.b);
    const Eigen::VectorXcd ideal = bounds_[0].ideal(aim_.b);
    for (std::size_t c = 0; c < columns(); ++c) {
      if (shares[c] > 2) continue;
      const Phasor wanted = ideal(static_cast<Eigen::Index>(c));
      auto [known, is_new] = nearest_.try_emplace({c, shares[c]}, INFINITY);
      if (is_new) {
        if (const auto load = loads_[c].nearest(wanted, shares[c]))
          known->second = std::abs(load->unbalance_kg_m - wanted);
      }
      if (known->second > bounds_[0].radius(static_cast<int>(c), t, rho_squared)) return true;
    }
    return false;
  }

  void examine(const std::vector<int>& shares, Better better) {
    const double t = worth_finding(better);
    if (!go_on() || hopeless(shares, t)) return;
    if (!form_lists(shares, t, most_weight(better))) return;
    lightest_.assign(columns() + 1, 0.0);
    for (std::size_t c = columns(); c-- > 0;) lightest_[c] = lightest_[c + 1] + lists_[c].front().weighed_kg;
    Candidate candidate;
    candidate.pieces = pieces_;
    combine(0, aim_.b, candidate, better);
  }

  // The loads of each column within its circle, from light to heavy; false if a column has none. Columns of few pieces
  // go first: what they weigh at least leaves less for the long lists.
  bool form_lists(const std::vector<int>& shares, double t, double most_kg) {
    const double rho_squared = bounds_[0].rho_squared(aim_.b);
    const Eigen::VectorXcd ideal = bounds_[0].ideal(aim_.b);
    std::vector<double> least_kg(columns());
    std::vector<std::size_t> order(columns());
    for (std::size_t c = 0; c < columns(); ++c) {
      least_kg[c] = shares[c] * loads_[c].lightest_kg();
      order[c] = c;
    }
    std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return shares[a] < shares[b]; });
    lists_.assign(columns(), {});
    for (std::size_t c : order) {
      least_kg[c] = 0.0;
      const double others_kg = std::accumulate(least_kg.begin(), least_kg.end(), 0.0);
      const double radius = bounds_[0].radius(static_cast<int>(c), t, rho_squared);
      lists_[c] = loads_[c].within({ideal(static_cast<Eigen::Index>(c)), radius, most_kg - others_kg + 1e-12},
                                   shares[c], [this] { return go_on(); });
      looked_at_ += lists_[c].size();
      if (lists_[c].empty()) return false;
      std::sort(lists_[c].begin(), lists_[c].end(),
                [](const Load& a, const Load& b) { return a.weighed_kg < b.weighed_kg; });
      least_kg[c] = lists_[c].front().weighed_kg;
    }
    return true;
  }

  // A good arrangement to begin with makes the circles small.
  void start_near_ideal(const std::vector<int>& shares) {
    Eigen::VectorXcd rows = aim_.b;
    Candidate candidate;
    candidate.pieces = pieces_;
    for (std::size_t c = 0; c < columns(); ++c) {
      const auto load = loads_[c].nearest(bounds_[c].ideal(rows)(0), shares[c]);
      if (!load) return;
      add(candidate, *load);
      rows += aim_.a.col(static_cast<Eigen::Index>(c)) * load->unbalance_kg_m;
    }
    offer(candidate, rows);
  }

  static void add(Candidate& candidate, const Load& load) {
    candidate.loads.push_back(load);
    candidate.weighed_kg += load.weighed_kg;
  }
  static void take_off(Candidate& candidate) {
    candidate.weighed_kg -= candidate.loads.back().weighed_kg;
    candidate.loads.pop_back();
  }

  void offer(const Candidate& candidate, const Eigen::VectorXcd& rows) {
    ++looked_at_;
    const double ratio = aim_.worst(rows);
    if (step_of(ratio) > best_.step) return;
    Candidate complete = candidate;
    complete.ratio = ratio;
    complete.step = step_of(ratio);
    if (complete.better_than(best_) && in_stock(complete)) best_ = std::move(complete);
  }

  bool in_stock(const Candidate& candidate) const {
    std::vector<int> used(problem_.counts.size(), 0);
    for (std::size_t c = 0; c < columns(); ++c)
      for (int i = 0; i < candidate.loads[c].size; ++i) {
        const int piece = loads_[c].single(candidate.loads[c].singles[static_cast<std::size_t>(i)]).piece;
        ++used[static_cast<std::size_t>(problem_.pieces[static_cast<std::size_t>(piece)].kind)];
      }
    for (std::size_t k = 0; k < used.size(); ++k)
      if (problem_.counts[k] && used[k] > *problem_.counts[k]) return false;
    return true;
  }

  // Lists go from light to heavy: what follows a load that is too heavy is too heavy as well.
  void combine(std::size_t c, const Eigen::VectorXcd& rows, Candidate& candidate, Better better) {
    if (c == columns()) {
      offer(candidate, rows);
      return;
    }
    for (const Load& load : lists_[c]) {
      if (!go_on() || candidate.weighed_kg + load.weighed_kg + lightest_[c + 1] > most_weight(better)) return;
      ++looked_at_;
      const Eigen::VectorXcd next = rows + aim_.a.col(static_cast<Eigen::Index>(c)) * load.unbalance_kg_m;
      if (bounds_[c + 1].least_ratio(next) >= worth_finding(better)) continue;
      add(candidate, load);
      combine(c + 1, next, candidate, better);
      take_off(candidate);
    }
  }

  FittingSummary summary() const {
    FittingSummary summary;
    summary.status = stopped_ ? FittingStatus::out_of_time : FittingStatus::optimal;
    summary.worst_ratio = best_.ratio;
    summary.bound_ratio = stopped_ ? bounds_[0].least_ratio(aim_.b) : best_.step * resolution_;
    summary.weighed_kg = best_.weighed_kg;
    summary.looked_at = looked_at_;
    std::vector<Phasor> fitted(problem_.planes.size(), 0.0);
    for (std::size_t c = 0; c < columns(); ++c) {
      const int plane = aim_.planes[c];
      const PlaneSites& sites = problem_.planes[static_cast<std::size_t>(plane)];
      for (int i = 0; i < best_.loads[c].size; ++i) {
        const Single& single = loads_[c].single(best_.loads[c].singles[static_cast<std::size_t>(i)]);
        const Piece& piece = problem_.pieces[static_cast<std::size_t>(single.piece)];
        summary.placed.push_back({plane, piece, sites.positions_rad[static_cast<std::size_t>(single.position)],
                                  sites.radius_m + piece.radius_offset_m});
      }
      fitted[static_cast<std::size_t>(plane)] = best_.loads[c].unbalance_kg_m;
    }
    for (const AimRow& row : problem_.aim) {
      Phasor value = row.present;
      for (std::size_t p = 0; p < fitted.size(); ++p) value += row.effect[p] * fitted[p];
      if (!aim_.is_for[summary.predicted.size()])
        summary.fixed_ratio = std::max(summary.fixed_ratio, std::abs(value) / row.limit);
      summary.predicted.push_back(value);
    }
    return summary;
  }

  const FittingProblem& problem_;
  const FittingOptions& options_;
  ScaledAim aim_;
  std::vector<Bounds> bounds_;     // [c]: columns from c on
  std::vector<PlaneLoads> loads_;  // one per column
  double resolution_ = 0.0;
  double least_step_ = 0.0;
  int pieces_ = 0;
  Candidate best_;
  std::map<std::pair<std::size_t, int>, double>
      nearest_;  // how near a column's loads of so many pieces come to the ideal
  std::vector<std::vector<Load>> lists_;
  std::vector<double> lightest_;  // [c]: the least that columns from c on weigh
  std::uint64_t looked_at_ = 0;
  std::uint64_t asked_ = 0;
  bool stopped_ = false;
};

}  // namespace

FittingSummary choose_pieces(const FittingProblem& problem, const FittingOptions& options) {
  return Search(problem, options).run();
}

}  // namespace counterspot
