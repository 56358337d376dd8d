#include "tracking/turn_vectors.hpp"

#include <algorithm>
#include <cmath>

namespace counterspot {
TurnVectors::TurnVectors(std::vector<double> orders, std::size_t samples_per_turn,
                         const std::vector<std::size_t>& channels, std::vector<double> scales)
    : orders_(std::move(orders)),
      per_turn_(static_cast<std::int64_t>(samples_per_turn)),
      resampler_(samples_per_turn, channels, std::move(scales),
                 flat_up_to(*std::max_element(orders_.begin(), orders_.end()) + 0.5, samples_per_turn)),
      signals_(channels.size()) {}

void TurnVectors::add(const TurnOfSamples& turn, SweepPoint point, std::vector<SweepPoint>& points) {
  std::vector<std::vector<double>> fresh(signals_.size());
  if (!resampler_.add(turn, fresh)) {
    for (auto& signal : signals_) signal.clear();
    waiting_.clear();
  }
  for (std::size_t s = 0; s < fresh.size(); ++s)
    signals_[s].insert(signals_[s].end(), fresh[s].begin(), fresh[s].end());
  const double per_rad = static_cast<double>(per_turn_) / turn_rad;
  waiting_.push_back({std::llround(turn.turn.begin_angle_rad * per_rad),
                      std::llround(turn.turn.end_angle_rad * per_rad), std::move(point)});
  const std::int64_t first = resampler_.next() - static_cast<std::int64_t>(signals_.front().size());
  while (!waiting_.empty() && waiting_.front().begin < first) waiting_.pop_front();
  while (!waiting_.empty() && waiting_.front().end <= resampler_.next()) {
    measure(waiting_.front());
    points.push_back(std::move(waiting_.front().point));
    waiting_.pop_front();
  }
  const std::int64_t needed =
      waiting_.empty() ? resampler_.next() : std::min(waiting_.front().begin, resampler_.next());
  if (needed <= first) return;
  for (auto& signal : signals_) signal.erase(signal.begin(), signal.begin() + (needed - first));
}

void TurnVectors::measure(Waiting& turn) const {
  const std::int64_t first = resampler_.next() - static_cast<std::int64_t>(signals_.front().size());
  const std::int64_t count = turn.end - turn.begin;
  for (const auto& signal : signals_) {
    auto& vectors = turn.point.vectors.emplace_back();
    const double* x = signal.data() + (turn.begin - first);
    for (const double k : orders_) {
      std::complex<double> sum = 0.0;
      for (std::int64_t i = 0; i < count; ++i)
        sum += x[i] * std::polar(1.0, k * turn_rad * static_cast<double>(i) / static_cast<double>(per_turn_));
      vectors.push_back(2.0 / static_cast<double>(count) * sum);
    }
  }
}

}  // namespace counterspot
