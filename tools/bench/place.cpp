// How long the choice of pieces takes in a usual case: two planes, twelve kinds of piece (eight washers, two strips in
// sizes of 5 mm, two clamps), two forbidden arcs a plane, anywhere else to 1 deg; 200 random shafts. Processor time, so
// that a busy machine does not matter much. Prints milliseconds: median, 95 %, worst. Usage: bench_place [SHAFTS]
#include <fmt/format.h>

#include <algorithm>
#include <ctime>
#include <random>
#include <string>
#include <vector>

#include "counterspot/placement/fitting.hpp"

using namespace counterspot;

namespace {

Stock usual_stock() {
  Stock stock;
  for (double grams : {1.4, 2.9, 5.6, 9.7, 14.0, 19.0, 26.0, 34.0}) {
    StockKind washer;
    washer.name = "washer";
    washer.masses_kg = {grams * 1e-3};
    washer.count = 20;
    stock.kinds.push_back(washer);
  }
  for (double linear : {0.283, 0.628}) {
    StockKind strip;
    strip.name = "strip";
    strip.linear_mass_kg_m = linear;
    strip.bead.fraction = 0.04;
    for (int mm = 15; mm <= 90; mm += 5) strip.lengths_m.push_back(mm * 1e-3);
    stock.kinds.push_back(strip);
  }
  for (double grams : {8.5, 12.5}) {
    StockKind clamp;
    clamp.name = "clamp";
    clamp.way = Way::clamp;
    clamp.masses_kg = {grams * 1e-3};
    clamp.band_kg = 24e-3;
    clamp.count = 4;
    stock.kinds.push_back(clamp);
  }
  PlaneRules rules;
  rules.forbidden = {{radians(352.0), radians(8.0), "seam"}, {radians(196.0), radians(214.0), "yoke ear"}};
  rules.smallest_gap_m = 0.014;
  stock.rules = {{"A", rules}, {"B", rules}};
  return stock;
}

struct Chosen {
  double ms = 0.0;
  double ratio = 0.0;
  std::size_t pieces = 0;
};

Chosen choose(const Shaft& shaft, const Stock& stock, const std::vector<Phasor>& residual, double resolution) {
  const std::vector<PlaneLimit> planes = {{"A", 0.35e-3}, {"B", 0.35e-3}};
  const std::vector<SupportLimit> supports = {{Support::a, 0.35e-3}, {Support::b, 0.35e-3}};
  const std::clock_t begin = std::clock();
  FittingProblem problem{
      aim_at_unbalance(shaft, residual, planes, supports), pieces_of(stock), {}, sites_of(shaft, stock, {})};
  for (const StockKind& kind : stock.kinds) problem.counts.push_back(kind.count);
  const FittingSummary found = choose_pieces(problem, {resolution, {}});
  const double ms = 1e3 * static_cast<double>(std::clock() - begin) / CLOCKS_PER_SEC;
  return {found.status == FittingStatus::optimal ? ms : 1e9, found.worst_ratio, found.placed.size()};
}

void show(const Shaft& shaft, const Stock& stock, double resolution, std::size_t shafts) {
  std::mt19937 random(3);
  std::uniform_real_distribution<double> size(0.2e-3, 2.2e-3);
  std::uniform_real_distribution<double> direction(0.0, turn_rad);
  std::vector<double> times_ms;
  double ratios = 0.0;
  std::size_t pieces = 0;
  for (std::size_t i = 0; i < shafts; ++i) {
    const Phasor a = std::polar(size(random), direction(random));
    const Phasor b = std::polar(size(random), direction(random));
    const Chosen chosen = choose(shaft, stock, {a, b}, resolution);
    times_ms.push_back(chosen.ms);
    ratios += chosen.ratio;
    pieces += chosen.pieces;
  }
  std::sort(times_ms.begin(), times_ms.end());
  fmt::print(
      "resolution {:<5} median {:.1f} ms, 95 % {:.1f} ms, worst {:.1f} ms; mean ratio {:.4f}, mean pieces {:.2f}\n",
      resolution, times_ms[shafts / 2], times_ms[shafts * 19 / 20], times_ms.back(),
      ratios / static_cast<double>(shafts), static_cast<double>(pieces) / static_cast<double>(shafts));
}

}  // namespace

int main(int argc, char** argv) {
  const std::size_t shafts = argc == 2 ? std::stoul(argv[1]) : 200;
  Shaft shaft;
  shaft.tube = Tube{0.0762, 0.0021, 1.42, "steel"};
  shaft.supports = Supports{0.0, 1.5, {}};
  shaft.planes = {{"A", 0.07, 0.039}, {"B", 1.43, 0.039}};
  const Stock stock = usual_stock();
  for (double resolution : {0.05, 0.01, 0.0}) show(shaft, stock, resolution, shafts);
}
