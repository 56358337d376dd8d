#include "recording/lined_up.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "recording/resampled.hpp"

namespace counterspot {

namespace {

constexpr std::size_t frames_at_once = 4096;
constexpr std::size_t least_common = 8;

struct Fit {
  ClockLine line;
  double rms = std::numeric_limits<double>::infinity();
};

/// The straight line through pairs of places.
Fit fit_line(std::span<const double> y, std::span<const double> x) {
  const auto n = static_cast<double>(x.size());
  double mean_x = 0.0;
  double mean_y = 0.0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    mean_x += x[i] / n;
    mean_y += y[i] / n;
  }
  double xx = 0.0;
  double xy = 0.0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    xx += (x[i] - mean_x) * (x[i] - mean_x);
    xy += (x[i] - mean_x) * (y[i] - mean_y);
  }
  Fit fit;
  fit.line.rate = xy / xx;
  fit.line.offset = mean_y - fit.line.rate * mean_x;
  double squares = 0.0;
  for (std::size_t i = 0; i < x.size(); ++i) squares += std::pow(y[i] - fit.line.offset - fit.line.rate * x[i], 2);
  fit.rms = std::sqrt(squares / n);
  return fit;
}

}  // namespace

std::vector<double> rises_of(const std::filesystem::path& path, const RecordingOptions& options, std::size_t channel) {
  const auto for_each_sample = [&](auto use) {
    const auto recording = open_recording(path, options);
    const std::size_t channels = recording->info().channels.size();
    for (auto block = recording->next(frames_at_once); !block.empty(); block = recording->next(frames_at_once))
      for (std::size_t i = channel; i < block.size(); i += channels) use(block[i]);
  };
  double low = std::numeric_limits<double>::infinity();
  double high = -low;
  for_each_sample([&](double value) {
    low = std::min(low, value);
    high = std::max(high, value);
  });
  const double middle = 0.5 * (low + high);
  const double again = low + (high - low) / 3.0;
  std::vector<double> rises;
  double place = 0.0;
  double before = high;
  bool armed = false;
  for_each_sample([&](double value) {
    if (armed && before < middle && value >= middle) {
      rises.push_back(place - 1.0 + (middle - before) / (value - before));
      armed = false;
    }
    armed = armed || value < again;
    before = value;
    place += 1.0;
  });
  return rises;
}

std::optional<ClockLine> line_up(std::span<const double> edges, std::span<const double> of_other, double nominal_rate) {
  const auto most = static_cast<std::ptrdiff_t>(std::max(edges.size(), of_other.size()));
  const std::size_t wanted = std::max(least_common, std::min(edges.size(), of_other.size()) / 2);
  Fit best;
  for (std::ptrdiff_t shift = -most; shift <= most; ++shift) {  // edge i of the other is edge i + shift of this one
    const auto from = static_cast<std::size_t>(std::max<std::ptrdiff_t>(0, -shift));
    const auto begin = static_cast<std::size_t>(static_cast<std::ptrdiff_t>(from) + shift);
    if (from >= of_other.size() || begin >= edges.size()) continue;
    const std::size_t count = std::min(of_other.size() - from, edges.size() - begin);
    if (count < wanted) continue;
    const Fit fit = fit_line(edges.subspan(begin, count), of_other.subspan(from, count));
    if (fit.rms < best.rms) best = fit;
  }
  constexpr double clocks_let_pass = 1e-3;
  constexpr double edges_let_pass = 0.01;
  if (!std::isfinite(best.rms) || std::abs(best.line.rate / nominal_rate - 1.0) > clocks_let_pass) return std::nullopt;
  const double between = (edges.back() - edges.front()) / static_cast<double>(edges.size() - 1);
  if (best.rms > edges_let_pass * between) return std::nullopt;
  return best.line;
}

std::unique_ptr<Recording> lined_up(std::unique_ptr<Recording> recording, const ClockLine& line, std::int64_t begin) {
  const auto place_of = [line, frame = 0.0](std::span<const double>) mutable {
    return (frame++ - line.offset) / line.rate;
  };
  return resampled(std::move(recording), place_of, static_cast<double>(begin), 1.0);
}

}  // namespace counterspot
