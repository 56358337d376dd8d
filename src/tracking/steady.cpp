#include "tracking/steady.hpp"

#include <algorithm>
#include <deque>
#include <vector>

namespace counterspot {
namespace {

constexpr std::int64_t smoothing_turns = 16;
constexpr double whole_if_drift_below = 0.05;
constexpr double steady_within = 0.02;
constexpr std::size_t smoothing_cells = 5;

/// Turns a frame, over five cells centred on each.
std::vector<double> smooth_speeds(const Cells& cells) {
  std::vector<double> speeds;
  for (std::size_t i = 0; i < cells.size(); ++i) {
    const std::size_t half = std::min({smoothing_cells / 2, i, cells.size() - 1 - i});
    double turns = 0.0;
    double frames = 0.0;
    for (std::size_t j = i - half; j <= i + half; ++j) {
      turns += static_cast<double>(cells.cell(j).turns);
      frames += cells.cell(j).turning_frames;
    }
    speeds.push_back(turns / frames);
  }
  return speeds;
}

}  // namespace

double drift_of(const Cells& cells, CellRange range) {
  std::int64_t turns = 0;
  double frames = 0.0;
  for (std::size_t i = range.begin; i < range.end; ++i) {
    turns += cells.cell(i).turns;
    frames += cells.cell(i).turning_frames;
  }
  const std::int64_t window = std::clamp<std::int64_t>(turns / 4, 1, smoothing_turns);
  double slowest = 1e300;
  double fastest = 0.0;
  std::int64_t held_turns = 0;
  double held_frames = 0.0;
  std::size_t first = range.begin;
  for (std::size_t i = range.begin; i < range.end; ++i) {
    held_turns += cells.cell(i).turns;
    held_frames += cells.cell(i).turning_frames;
    while (held_turns - cells.cell(first).turns >= window) {
      held_turns -= cells.cell(first).turns;
      held_frames -= cells.cell(first).turning_frames;
      ++first;
    }
    if (held_turns < window) continue;
    const double speed = static_cast<double>(held_turns) / held_frames;
    slowest = std::min(slowest, speed);
    fastest = std::max(fastest, speed);
  }
  return (fastest - slowest) / (static_cast<double>(turns) / frames);
}

CellRange steady_range(const Cells& cells) {
  const CellRange all{0, cells.size()};
  if (cells.size() < 2 * smoothing_cells || drift_of(cells, all) < whole_if_drift_below) return all;
  const std::vector<double> speeds = smooth_speeds(cells);
  std::deque<std::size_t> lowest;   // of the present stretch, ascending speeds
  std::deque<std::size_t> highest;  // descending speeds
  CellRange best{0, 0};
  std::int64_t best_turns = 0;
  std::int64_t turns = 0;
  std::size_t begin = 0;
  for (std::size_t end = 0; end < speeds.size(); ++end) {
    while (!lowest.empty() && speeds[lowest.back()] >= speeds[end]) lowest.pop_back();
    while (!highest.empty() && speeds[highest.back()] <= speeds[end]) highest.pop_back();
    lowest.push_back(end);
    highest.push_back(end);
    turns += cells.cell(end).turns;
    while (speeds[highest.front()] > (1.0 + steady_within) * speeds[lowest.front()]) {
      turns -= cells.cell(begin).turns;
      if (lowest.front() == begin) lowest.pop_front();
      if (highest.front() == begin) highest.pop_front();
      ++begin;
    }
    if (turns > best_turns) {
      best_turns = turns;
      best = {begin, end + 1};
    }
  }
  return best;
}

}  // namespace counterspot
