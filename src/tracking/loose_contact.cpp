#include "tracking/loose_contact.hpp"

#include "algebra/median.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace counterspot {
namespace {

constexpr double gone = 0.05;  // of the median variance
constexpr double surely_gone = 0.002;
constexpr double there = 0.5;         // of the median variance
constexpr double unusual_step = 8.0;  // robust standard deviations of the change over three turns
constexpr double least_step = 0.2;    // of the root mean square
constexpr std::size_t stays = 4;      // turns
constexpr std::size_t apart = 10;     // turns
constexpr std::size_t fewest_cells = 16;

struct Levels {
  std::vector<double> means;
  std::vector<double> variances;
};

Levels levels_of(const Cells& cells, CellRange range, std::size_t sensor) {
  Levels levels;
  for (std::size_t i = range.begin; i < range.end; ++i) {
    const auto n = static_cast<double>(cells.cell(i).frames);
    const double mean = cells.sum(i, sensor) / n;
    levels.means.push_back(mean);
    levels.variances.push_back(std::max(0.0, cells.square(i, sensor) / n - mean * mean));
  }
  return levels;
}

bool goes_away(const std::vector<double>& variances, std::size_t i, double median) {
  const auto low = [&](std::size_t turn) { return turn < variances.size() && variances[turn] < gone * median; };
  if (!low(i)) return false;
  const bool in_a_row = low(i + 1) || (i > 0 && low(i - 1));
  if (!in_a_row && variances[i] >= surely_gone * median) return false;
  const bool before = i >= 2 && variances[i - 2] > there * median;
  const bool behind = i + 2 < variances.size() && variances[i + 2] > there * median;
  return before || behind;
}

/// The level before cell i, against that of the four cells from i + 1 on.
bool steps(const std::vector<double>& means, std::size_t i, double least) {
  if (i < 2 || i + stays >= means.size()) return false;
  const double before = 0.5 * (means[i - 2] + means[i - 1]);
  const bool up = means[i + 1] > before;
  for (std::size_t j = i + 1; j <= i + stays; ++j) {
    const double change = up ? means[j] - before : before - means[j];
    // AC coupling lets it go again: what is left of it after four turns is enough
    if (change < (j <= i + 2 ? least : 0.25 * least)) return false;
  }
  return true;
}

}  // namespace

std::int64_t breaks_of_contact(const Cells& cells, CellRange range, std::size_t sensor) {
  if (range.size() < fewest_cells) return 0;
  const Levels levels = levels_of(cells, range, sensor);
  const double median = median_of(levels.variances);
  if (median <= 0.0) return 0;
  std::vector<double> changes;
  for (std::size_t i = 3; i < levels.means.size(); ++i)
    changes.push_back(std::abs(levels.means[i] - levels.means[i - 3]));
  const double usual = median_of(changes) / 0.6745;  // of a normal distribution
  const double least = std::max(unusual_step * usual, least_step * std::sqrt(median));
  std::int64_t breaks = 0;
  std::size_t last = 0;
  for (std::size_t i = 0; i < levels.means.size(); ++i) {
    if (!goes_away(levels.variances, i, median) && !steps(levels.means, i, least)) continue;
    if (breaks == 0 || i - last > apart) ++breaks;
    last = i;
  }
  return breaks;
}

}  // namespace counterspot
