#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include <tuple>

#include "counterspot/placement/fitting.hpp"
#include "counterspot/units/error.hpp"

using namespace counterspot;

namespace {

// Enumerates every arrangement that the rules allow, without a thought.
struct BruteForce {
  const FittingProblem& problem;
  double resolution;
  std::tuple<double, int, double, double> best{INFINITY, 0, 0.0, INFINITY};
  std::vector<Placed> placed{};

  void run() { plane(0, 0); }

  void plane(std::size_t p, std::size_t from) {
    if (p == problem.planes.size()) {
      judge();
      return;
    }
    plane(p + 1, 0);
    const PlaneSites& sites = problem.planes[p];
    const std::size_t all = problem.pieces.size() * sites.positions_rad.size();
    for (std::size_t i = from; i < all; ++i) {
      const Piece& piece = problem.pieces[i / sites.positions_rad.size()];
      placed.push_back({static_cast<int>(p), piece, sites.positions_rad[i % sites.positions_rad.size()],
                        sites.radius_m + piece.radius_offset_m});
      if (allowed()) plane(p, i + 1);
      placed.pop_back();
    }
  }

  bool allowed() const {
    const Placed& last = placed.back();
    const PlaneSites& sites = problem.planes[static_cast<std::size_t>(last.plane)];
    int here = 0;
    int of_kind = 0;
    double mass = 0.0;
    for (std::size_t i = 0; i < placed.size(); ++i) {
      const Placed& other = placed[i];
      if (other.piece.kind == last.piece.kind) ++of_kind;
      if (other.plane != last.plane) continue;
      ++here;
      mass += other.piece.weighed_kg;
      if (i + 1 == placed.size()) continue;
      const double apart = std::abs(std::remainder(other.angle_rad - last.angle_rad, turn_rad));
      if (apart < 1e-6 || apart < sites.smallest_gap_rad - 1e-9) return false;
    }
    const auto& count = problem.counts[static_cast<std::size_t>(last.piece.kind)];
    return here <= sites.most_pieces && mass <= sites.most_mass_kg && (!count || of_kind <= *count);
  }

  void judge() {
    double ratio = 0.0;
    double mass = 0.0;
    for (const Placed& p : placed) mass += p.piece.weighed_kg;
    for (const AimRow& row : problem.aim) {
      Phasor value = row.present;
      double open = 0.0;
      double closed = 0.0;
      for (std::size_t p = 0; p < problem.planes.size(); ++p) {
        double& most = problem.planes[p].most_pieces > 0 ? open : closed;
        most = std::max(most, std::abs(row.effect[p]));
      }
      for (const Placed& p : placed) value += row.effect[static_cast<std::size_t>(p.plane)] * p.unbalance_kg_m();
      if (open > 0.0 && open >= 0.2 * closed) ratio = std::max(ratio, std::abs(value) / row.limit);
    }
    const double step = std::floor(ratio / std::max(resolution, 1e-9));
    best = std::min(best, std::tuple{step, static_cast<int>(placed.size()), mass, ratio});
  }
};

double uniform(std::mt19937& random, double low, double high) {
  return std::uniform_real_distribution<double>(low, high)(random);
}
int whole(std::mt19937& random, int low, int high) {
  return std::uniform_int_distribution<int>(low, high)(random);
}
Phasor any_vector(std::mt19937& random, double largest) {
  return std::polar(uniform(random, 0.0, largest), uniform(random, 0.0, turn_rad));
}

void add_pieces(FittingProblem& problem, std::mt19937& random) {
  const int kinds = whole(random, 1, 4);
  for (int k = 0; k < kinds; ++k) {
    const Way way = whole(random, 0, 5) == 0 ? Way::drill : Way::weld;
    const int sizes = whole(random, 1, 2);
    for (int i = 0; i < sizes; ++i) {
      const double mass = uniform(random, 2e-3, 25e-3);
      const double bead = way == Way::weld ? 1.0 + uniform(random, 0.0, 0.1) : -1.0;
      problem.pieces.push_back({k, way, bead * mass, mass, 0.0, way == Way::drill ? -2e-3 : 0.0});
    }
    problem.counts.push_back(whole(random, 0, 1) == 0 ? std::nullopt : std::optional(whole(random, 1, 2)));
  }
}

PlaneSites any_sites(std::mt19937& random, const std::string& name) {
  PlaneSites sites{name, uniform(random, 0.03, 0.05), {}, 0.0, whole(random, 1, 2)};
  const int positions = whole(random, 2, 6);
  for (int i = 0; i < positions; ++i) sites.positions_rad.push_back(uniform(random, 0.0, turn_rad));
  if (whole(random, 0, 1) == 1) sites.smallest_gap_rad = uniform(random, 0.0, 2.0);
  if (whole(random, 0, 4) == 0) sites.most_mass_kg = uniform(random, 5e-3, 40e-3);
  return sites;
}

// Small enough for brute force: one or two planes (sometimes one is closed), rows at planes, at supports or at sensors.
FittingProblem any_problem(std::mt19937& random) {
  FittingProblem problem;
  add_pieces(problem, random);
  const int planes = whole(random, 1, 2);
  for (int p = 0; p < planes; ++p) problem.planes.push_back(any_sites(random, p == 0 ? "A" : "B"));
  if (planes == 2 && whole(random, 0, 7) == 0) problem.planes[1].most_pieces = 0;
  const int rows = planes + whole(random, 0, 2);
  const bool sensors = whole(random, 0, 1) == 0;
  std::vector<Phasor> unbalance;
  for (int p = 0; p < planes; ++p) unbalance.push_back(any_vector(random, 1.5e-3));
  for (int r = 0; r < rows; ++r) {
    AimRow row{{"row"}, 0.0, {}, uniform(random, 1e-4, 4e-4)};
    for (int p = 0; p < planes; ++p)
      row.effect.push_back(sensors || r >= planes ? any_vector(random, 1.0) + (r == p ? 1.0 : 0.0)
                                                  : (r == p ? 1.0 : 0.0));
    for (int p = 0; p < planes; ++p) row.present += row.effect[p] * unbalance[p];
    if (sensors) row.present += any_vector(random, 1e-4);  // more sensors than planes never agree fully
    problem.aim.push_back(row);
  }
  return problem;
}

FittingProblem usual_problem() {
  FittingProblem problem;
  problem.counts = {std::nullopt};
  for (int g = 2; g <= 40; ++g) problem.pieces.push_back({0, Way::weld, g * 1e-3, g * 1e-3});
  for (const char* name : {"A", "B"}) {
    PlaneSites sites{name, 0.039, {}, 0.0, 2};
    for (int i = 0; i < 12; ++i) sites.positions_rad.push_back(turn_rad * i / 12);
    problem.planes.push_back(sites);
  }
  problem.aim = {{{"A"}, std::polar(0.7e-3, 1.0), {1.0, 0.0}, 0.35e-3},
                 {{"B"}, std::polar(1.1e-3, 4.0), {0.0, 1.0}, 0.35e-3}};
  return problem;
}

}  // namespace

TEST_CASE("the choice of pieces equals brute force on 500 random small cases") {
  std::mt19937 random(160407);
  int with_pieces = 0;
  for (int i = 0; i < 500; ++i) {
    const FittingProblem problem = any_problem(random);
    const double resolution = std::vector{0.0, 0.05, 0.3}[static_cast<std::size_t>(i % 3)];
    BruteForce brute{problem, resolution};
    brute.run();
    const FittingSummary found = choose_pieces(problem, {resolution, {}});
    const auto [step, pieces, mass, ratio] = brute.best;
    INFO("case " << i << ", resolution " << resolution);
    CHECK(found.status == FittingStatus::optimal);
    CHECK(found.worst_ratio == Approx(ratio).epsilon(1e-6));  // both add the same numbers in another order
    CHECK(static_cast<int>(found.placed.size()) == pieces);
    CHECK(found.weighed_kg == Approx(mass).margin(1e-12));
    if (pieces > 0) ++with_pieces;
  }
  CHECK(with_pieces > 300);  // the cases are not empty ones
}

TEST_CASE("the choice is never worse than rounding the ideal vector") {
  std::mt19937 random(31);
  for (int i = 0; i < 100; ++i) {
    FittingProblem problem = usual_problem();
    std::vector<Phasor> rounded;
    for (std::size_t p = 0; p < 2; ++p) {
      problem.aim[p].present = any_vector(random, 1.6e-3);
      Phasor nearest = 0.0;
      const PlaneSites& sites = problem.planes[p];
      for (const Piece& piece : problem.pieces)
        for (double angle : sites.positions_rad) {
          const Phasor v = std::polar(piece.acting_kg * sites.radius_m, angle);
          if (std::abs(problem.aim[p].present + v) < std::abs(problem.aim[p].present + nearest)) nearest = v;
        }
      rounded.push_back(nearest);
    }
    const double by_rounding = worst_ratio(problem.aim, rounded);
    CHECK(choose_pieces(problem).worst_ratio <= by_rounding * (1 + 1e-9));
    CHECK(std::floor(choose_pieces(problem, {0.05, {}}).worst_ratio / 0.05) <= std::floor(by_rounding / 0.05));
  }
}

TEST_CASE("with a strip of any length a vector between two allowed positions is split as in the textbook") {
  // Any balancing text: w·sin(β₂ − β)/sin(β₂ − β₁) at β₁ and w·sin(β − β₁)/sin(β₂ − β₁) at β₂. By hand: 30 at 20 deg
  // onto 0 and 60 deg: 30·sin 40/sin 60 = 22.267, 30·sin 20/sin 60 = 11.848.
  FittingProblem problem;
  problem.counts = {std::nullopt};
  for (int i = 1; i <= 400; ++i) problem.pieces.push_back({0, Way::weld, i * 1e-4, i * 1e-4});
  PlaneSites sites{"A", 0.04, {0.0, radians(60.0), radians(150.0), radians(240.0)}, 0.0, 2};
  problem.planes = {sites};
  problem.aim = {{{"A"}, -0.04 * 30e-3 * std::polar(1.0, radians(20.0)), {1.0}, 0.3e-3}};
  const FittingSummary found = choose_pieces(problem, {0.0, {}});
  REQUIRE(found.placed.size() == 2);
  for (const Placed& placed : found.placed) {
    const double share = placed.angle_rad == 0.0 ? 22.267e-3 : 11.848e-3;
    CHECK((placed.angle_rad == 0.0 || placed.angle_rad == Approx(radians(60.0))));
    CHECK(placed.piece.acting_kg == Approx(share).margin(0.1e-3));  // the step of the strip
  }
}

TEST_CASE("out of time the best so far is given, with what better could be") {
  FittingProblem problem = usual_problem();
  const FittingSummary found = choose_pieces(problem, {0.0, [] { return true; }});
  const FittingSummary proven = choose_pieces(problem, {0.0, {}});
  CHECK(proven.status == FittingStatus::optimal);
  CHECK(found.status == FittingStatus::out_of_time);
  CHECK(found.bound_ratio <= proven.worst_ratio);
  CHECK(found.worst_ratio >= proven.worst_ratio);
}

TEST_CASE("an open plane is not put out of balance for the sake of the closed one's support") {
  // By hand: supports at 0 and 1500 mm, planes at 70 and 1430 mm. With B closed, plane A moves support B by 70/1500
  // = 4.7 % of what it carries, against 95 % of plane B's: the best for A is the piece that takes its own 0.6 kg·mm
  // away.
  FittingProblem problem = usual_problem();
  problem.planes[1].most_pieces = 0;
  const Phasor b = std::polar(0.9e-3, 4.0);
  const double far = 70.0 / 1500.0;
  const Phasor a = std::polar(0.6e-3, 1.0);
  problem.aim = {{{"A"}, a, {1.0, 0.0}, 0.35e-3},
                 {{"B"}, b, {0.0, 1.0}, 0.35e-3},
                 {at_support(Support::a), (1 - far) * a + far * b, {1 - far, far}, 0.35e-3},
                 {at_support(Support::b), far * a + (1 - far) * b, {far, 1 - far}, 0.35e-3}};
  const FittingSummary found = choose_pieces(problem);
  // 4.7 % of B's 0.9 kg·mm stay at support A, 12 % of its limit; pieces in steps of 1 g and 30 deg do the rest.
  CHECK(found.worst_ratio < 0.2);
  CHECK(found.fixed_ratio == Approx(0.9 / 0.35));
  CHECK(std::abs(found.predicted[0]) < 0.2 * 0.35e-3);
}

TEST_CASE("limits that do not tell the planes apart are refused") {
  FittingProblem problem = usual_problem();
  problem.aim.pop_back();
  CHECK_THROWS_AS(choose_pieces(problem), Error);
  problem.aim.clear();
  CHECK_THROWS_AS(choose_pieces(problem), Error);
}
