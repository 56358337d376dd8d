#include "tracking/cells.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "tracking/orders.hpp"

namespace counterspot {

namespace {

int thousandths(double m) {
  return static_cast<int>(std::lround(1000.0 * m));
}

}  // namespace

Cells::Cells(std::vector<double> orders, std::vector<std::size_t> channels, std::size_t most_doubles)
    : orders_(std::move(orders)), channels_(std::move(channels)) {
  for (const double k : orders_) {
    multiples_.push_back(thousandths(k));
    for (const double l : orders_) {
      multiples_.push_back(thousandths(k) + thousandths(l));
      if (k > l) multiples_.push_back(thousandths(k) - thousandths(l));
    }
  }
  std::sort(multiples_.begin(), multiples_.end());
  multiples_.erase(std::unique(multiples_.begin(), multiples_.end()), multiples_.end());
  place_.assign(static_cast<std::size_t>(multiples_.back()) + 1, -1);
  for (std::size_t i = 0; i < multiples_.size(); ++i)
    place_[static_cast<std::size_t>(multiples_[i])] = static_cast<int>(i);
  width_ = channels_.size() * 2 * (1 + orders_.size()) + 2 * multiples_.size();
  most_cells_ = std::clamp<std::size_t>(most_doubles / width_, 256, 4096) / 2 * 2;
}

void Cells::add(const TurnOfSamples& turn, const TurnSums& sums, std::size_t padded_channel_count) {
  const auto turns = std::llround((turn.turn.end_angle_rad - turn.turn.begin_angle_rad) / turn_rad);
  const bool begins = cells_.empty() || cells_.back().turns >= turns_per_cell_;
  if (begins && cells_.size() == most_cells_) {
    merge_pairs();
    turns_per_cell_ *= 2;
  }
  if (begins) {
    cells_.push_back({turn.turn.begin_frame, 0.0, turn.turn.begin_angle_rad, 0.0, 0, 0});
    values_.resize(values_.size() + width_, 0.0);
  }
  Cell& cell = cells_.back();
  cell.end_frame = turn.turn.end_frame;
  cell.turning_frames += turn.turn.end_frame - turn.turn.begin_frame;
  cell.turns += turns;
  cell.frames += static_cast<std::int64_t>(turn.frames.count);
  double* value = values_.data() + (cells_.size() - 1) * width_;
  for (const std::size_t channel : channels_) {
    *value++ += sums.levels[channel].sum;
    *value++ += sums.levels[channel].square;
  }
  for (std::size_t o = 0; o < orders_.size(); ++o) {
    for (const std::size_t channel : channels_) {
      *value++ += sums.orders[o * padded_channel_count + channel].real();
      *value++ += sums.orders[o * padded_channel_count + channel].imag();
    }
  }
  for (const int m : multiples_) {
    const auto phasor = sum_of_phasors(1e-3 * m, turn.frames.first_angle_rad, turn.frames.step_rad,
                                       static_cast<double>(turn.frames.count));
    *value++ += phasor.real();
    *value++ += phasor.imag();
  }
}

void Cells::merge_pairs() {
  for (std::size_t i = 0; i < cells_.size() / 2; ++i) {
    const Cell& a = cells_[2 * i];
    const Cell& b = cells_[2 * i + 1];
    cells_[i] = {a.begin_frame,     b.end_frame,        a.begin_angle_rad, a.turning_frames + b.turning_frames,
                 a.turns + b.turns, a.frames + b.frames};
    for (std::size_t v = 0; v < width_; ++v) {
      values_[i * width_ + v] = values_[2 * i * width_ + v] + values_[(2 * i + 1) * width_ + v];
    }
  }
  cells_.resize(cells_.size() / 2);
  values_.resize(cells_.size() * width_);
}

std::complex<double> Cells::order_sum(std::size_t i, std::size_t sensor, std::size_t order) const {
  const double* value = at(i) + 2 * (channels_.size() * (1 + order) + sensor);
  return {value[0], value[1]};
}

std::complex<double> Cells::phasor_sum(std::size_t i, double m) const {
  const int n = thousandths(m);
  if (n == 0) return static_cast<double>(cells_[i].frames);
  const double* value = at(i) + 2 * channels_.size() * (1 + orders_.size()) +
                        2 * static_cast<std::size_t>(place_[static_cast<std::size_t>(std::abs(n))]);
  return {value[0], n > 0 ? value[1] : -value[1]};
}

void Cells::take_off(std::size_t i, std::size_t sensor, double sum, double square,
                     const std::vector<std::complex<double>>& order_sums) {
  double* value = values_.data() + i * width_;
  value[2 * sensor] -= sum;
  value[2 * sensor + 1] -= square;
  for (std::size_t o = 0; o < orders_.size(); ++o) {
    double* of = value + 2 * (channels_.size() * (1 + o) + sensor);
    of[0] -= order_sums[o].real();
    of[1] -= order_sums[o].imag();
  }
}

std::complex<double> sum_over(const Cell& cell, double m, double cycles_per_frame) {
  const double step = turn_rad * static_cast<double>(cell.turns) / cell.turning_frames;
  const double first = std::ceil(cell.begin_frame);
  const double angle = m * (cell.begin_angle_rad + step * (first - cell.begin_frame)) -
                       turn_rad * std::fmod(cycles_per_frame * first, 1.0);
  return sum_of_phasors(1.0, angle, m * step - turn_rad * cycles_per_frame, static_cast<double>(cell.frames));
}

}  // namespace counterspot
