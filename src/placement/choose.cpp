#include <algorithm>
#include <cmath>
#include <tuple>

#include "counterspot/fitting.hpp"
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
  std::vector<Load> loads;  // one an open plane

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
    for (pieces_ = 0; pieces_ <= all && go_on(); ++pieces_) {
      share_out(most, 0, pieces_, {});
      if (best_.step <= least_step_) break;
    }
    return summary();
  }

 private:
  double step_of(double ratio) const { return std::floor(ratio / resolution_); }
  std::size_t columns() const { return aim_.planes.size(); }

  bool go_on() {
    if (!stopped_ && options_.out_of_time && ++asked_ % 256 == 0) stopped_ = options_.out_of_time();
    return !stopped_;
  }

  // Every way to share `left` pieces out among the columns from c on.
  void share_out(const std::vector<int>& most, std::size_t c, int left, std::vector<int> shares) {
    if (c == columns()) {
      if (left == 0) search(shares);
      return;
    }
    for (int n = 0; n <= std::min(left, most[c]); ++n) {
      shares.push_back(n);
      share_out(most, c + 1, left - n, shares);
      shares.pop_back();
    }
  }

  // The largest worst ratio that could still be better with these pieces.
  double worth_finding() const {
    if (!std::isfinite(best_.step)) return INFINITY;
    return (best_.pieces == pieces_ ? best_.step + 1.0 : best_.step) * resolution_;
  }

  void search(const std::vector<int>& shares) {
    if (!go_on()) return;
    start_near_ideal(shares);
    const double t = worth_finding();
    const double rho_squared = bounds_[0].rho_squared(aim_.b);
    const Eigen::VectorXcd ideal = bounds_[0].ideal(aim_.b);
    lists_.assign(columns(), {});
    lightest_.assign(columns() + 1, 0.0);
    for (std::size_t c = 0; c < columns(); ++c) {
      const auto column = static_cast<Eigen::Index>(c);
      lists_[c] = loads_[c].within(ideal(column), bounds_[0].radius(static_cast<int>(c), t, rho_squared), shares[c],
                                   [this] { return go_on(); });
      looked_at_ += lists_[c].size();
      if (lists_[c].empty()) return;
      std::sort(lists_[c].begin(), lists_[c].end(),
                [](const Load& a, const Load& b) { return a.weighed_kg < b.weighed_kg; });
    }
    for (std::size_t c = columns(); c-- > 0;) lightest_[c] = lightest_[c + 1] + lists_[c].front().weighed_kg;
    Candidate candidate;
    candidate.pieces = pieces_;
    combine(0, aim_.b, candidate);
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
    if (ratio >= worth_finding() && std::isfinite(best_.step)) return;
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

  // Lists go from light to heavy: what is heavier than the best must be a step better, and if no step is better the
  // rest of the list cannot win.
  void combine(std::size_t c, const Eigen::VectorXcd& rows, Candidate& candidate) {
    if (c == columns()) {
      offer(candidate, rows);
      return;
    }
    for (const Load& load : lists_[c]) {
      if (!go_on()) return;
      double t = worth_finding();
      const double weight = candidate.weighed_kg + load.weighed_kg + lightest_[c + 1];
      if (best_.pieces == pieces_ && weight > best_.weighed_kg) {
        if (best_.step <= least_step_) return;
        t = best_.step * resolution_;
      }
      const Eigen::VectorXcd next = rows + aim_.a.col(static_cast<Eigen::Index>(c)) * load.unbalance_kg_m;
      ++looked_at_;
      if (bounds_[c + 1].least_ratio(next) >= t) continue;
      add(candidate, load);
      combine(c + 1, next, candidate);
      take_off(candidate);
    }
  }

  FittingSummary summary() const {
    FittingSummary summary;
    summary.status = stopped_ ? FittingStatus::out_of_time : FittingStatus::optimal;
    summary.worst_ratio = best_.ratio;
    summary.fixed_ratio = aim_.fixed_ratio;
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
      summary.predicted.push_back(value);
    }
    return summary;
  }

  const FittingProblem& problem_;
  const FittingOptions& options_;
  ScaledAim aim_;
  std::vector<Bounds> bounds_;     // [c]: columns from c on
  std::vector<PlaneLoads> loads_;  // one a column
  double resolution_ = 0.0;
  double least_step_ = 0.0;
  int pieces_ = 0;
  Candidate best_;
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
