#include "recording/even_time.hpp"

#include <fast_float/fast_float.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "algebra/median.hpp"
#include "recording/date_time.hpp"
#include "recording/readers.hpp"
#include "recording/resampled.hpp"

namespace counterspot {

namespace {

const char* const remedy = "record the spin again, or export it whole: no row left out, times in order";
const char* const remedy_of_coarse =
    "export the times with more decimals; if they are only written too coarsely and no row is missing, state the rate: "
    "sample_rate = \"51.2 kHz\" under [rig] and time = \"none\" under [recording] in the rig file";

constexpr double worth_its_own_time = 0.001;  // of an interval: 0.03 % of order 1 at 25 samples per turn
constexpr double wavering = 0.6;  // of an interval; five standard deviations of 10 %, and a row left out makes 1

/// Slope of the straight line through evenly spaced values: Σ(k − k̄)y / Σ(k − k̄)².
double slope_of(std::span<const TimeOfRow> rows) {
  double middle = static_cast<double>(rows.size() - 1) / 2.0;
  double above = 0.0;
  double below = 0.0;
  for (std::size_t k = 0; k < rows.size(); ++k) {
    double x = static_cast<double>(k) - middle;
    above += x * (rows[k].time_s - rows[0].time_s);
    below += x * x;
  }
  return above / below;
}

std::vector<double> steps_of(std::span<const TimeOfRow> rows) {
  std::vector<double> steps;
  for (std::size_t k = 1; k < rows.size(); ++k) steps.push_back(rows[k].time_s - rows[k - 1].time_s);
  return steps;
}

}  // namespace

EvenTime::EvenTime(std::string name, std::span<const TimeOfRow> first, double rounding_s, const char* place)
    : name_(std::move(name)),
      place_(place),
      rounding_s_(rounding_s),
      start_s_(first[0].time_s),
      interval_s_(slope_of(first)),
      allowed_s_(0.0),
      next_fit_(static_cast<double>(first.size())),
      previous_s_(-std::numeric_limits<double>::infinity()) {
  refuse_standing(first);
  // A few roundings of a double come on top of what the text leaves out.
  round_to(rounding_s + 1.6e-15 * std::abs(first.back().time_s));
  refuse_lost(first);
  double sum = 0.0;
  for (std::size_t k = 0; k < first.size(); ++k) sum += residual(first[k].time_s, static_cast<double>(k));
  offset_s_ = first_offset_s_ = sum / static_cast<double>(first.size());
  double worst_s = 0.0;
  for (std::size_t k = 0; k < first.size(); ++k)
    worst_s = std::max(worst_s, std::abs(residual(first[k].time_s, static_cast<double>(k)) - offset_s_));
  if (worst_s > allowed_s_) refuse_jump(first);
  wavers_ = worst_s - rounding_s_ / 2.0 > worth_its_own_time * interval_s_;
}

void EvenTime::round_to(double rounding_s) {
  rounding_s_ = rounding_s;
  allowed_s_ = std::max(wavering * interval_s_, 0.01 * interval_s_ + rounding_s / 2.0);
}

/// Rows left out, and clocks that jump, among times that may waver: all behind them are late, or early. One time says
/// little, eight in the mean do: 0.05 of an interval where times waver by 10 %.
void EvenTime::refuse_lost(std::span<const TimeOfRow> first) const {
  constexpr std::size_t of_each_side = 8;
  const double usual_s = first.size() > 20 * of_each_side ? interval_s_ : median_of(steps_of(first));
  auto mean_late_s = [&](std::span<const TimeOfRow> rows, double first_place) {
    double sum_s = 0.0;
    for (const TimeOfRow& row : rows) sum_s += row.time_s - usual_s * first_place++;
    return sum_s / static_cast<double>(rows.size());
  };
  for (std::size_t k = 1; k < first.size(); ++k) {
    const std::size_t before = std::min(of_each_side, k);
    const std::size_t behind = std::min(of_each_side, first.size() - k);
    const bool by_many = before + behind == 2 * of_each_side;
    if (!by_many && first[k].time_s - first[k - 1].time_s < 1.5 * usual_s) continue;
    const double late_s = mean_late_s(first.subspan(k, behind), static_cast<double>(before)) -
                          mean_late_s(first.subspan(k - before, before), 0.0);
    const double let_pass_s = by_many ? 0.3 * usual_s + 0.4 * std::min(rounding_s_, usual_s) : 0.7 * usual_s;
    if (std::abs(late_s) > let_pass_s) refuse_jump(first);
  }
}

void EvenTime::fit() {
  double n = index_;
  double sum_k = n * (n - 1.0) / 2.0;
  double sum_kk = n * (n - 1.0) * (2.0 * n - 1.0) / 6.0;
  double determinant = n * sum_kk - sum_k * sum_k;
  slope_s_ = (n * moment_ - sum_k * sum_) / determinant;
  offset_s_ = (sum_ - slope_s_ * sum_k) / n;
  next_fit_ = n + 4096.0;
}

/// Times that do not go on, and times that are no numbers.
void EvenTime::refuse_standing(std::span<const TimeOfRow> first) {
  for (const TimeOfRow& row : first) {
    if (!(row.time_s > previous_s_) || !std::isfinite(row.time_s)) refuse(row);
    previous_s_ = row.time_s;
  }
  previous_s_ = -std::numeric_limits<double>::infinity();
}

/// Held to one line, a jump shows on every row; this names the row where it happens.
void EvenTime::refuse_jump(std::span<const TimeOfRow> first) const {
  const std::vector<double> steps = steps_of(first);
  const double usual = median_of(steps);
  auto departure = [usual](double step) { return std::abs(step - usual); };
  auto worst = std::max_element(steps.begin(), steps.end(),
                                [&](double one, double other) { return departure(one) < departure(other); });
  const TimeOfRow& row = first[static_cast<std::size_t>(worst - steps.begin()) + 1];
  throw Error(
      Trouble::recording, "uneven_time",
      fmt::format("{}, {} {}: time steps by {:.4g} s where steps are {:.4g} s", name_, place_, row.line, *worst, usual),
      remedy);
}

void EvenTime::refuse(const TimeOfRow& row) const {
  std::string where = fmt::format("{}, {} {}: ", name_, place_, row.line);
  if (!std::isfinite(row.time_s)) {
    throw Error(Trouble::recording, "uneven_time", where + "the time is not a finite number", remedy);
  }
  if (row.time_s <= previous_s_) {
    const bool back = row.time_s < previous_s_;
    throw Error(Trouble::recording, "uneven_time",
                back ? fmt::format("{}time goes back from {} s to {} s", where, previous_s_, row.time_s)
                     : fmt::format("{}time stands still at {} s", where, previous_s_),
                back ? remedy : remedy_of_coarse);
  }
  const double departure_s = residual(row.time_s, index_) - (offset_s_ + slope_s_ * index_);
  throw Error(Trouble::recording, "uneven_time",
              fmt::format("{}time {} s is {:.2g} sample intervals from its even place", where, row.time_s,
                          std::abs(departure_s) / interval_s_),
              remedy);
}

Warnings EvenTime::warnings() const {
  const double worst = worst_s_ / interval_s_;
  if (worst <= worth_its_own_time) return {};
  return {{WarningCode::uneven_time, std::nullopt,
           fmt::format("{}: times waver by up to {:.2g} % of a sample interval and are taken as {}", name_,
                       100.0 * worst, wavers_ ? "they are" : "even")}};
}

std::unique_ptr<Recording> at_even_times(std::unique_ptr<Recording> recording, const TimeColumn& time,
                                         const EvenTime& even) {
  const auto time_of = [time, before_s = even.start_time_s()](std::span<const double> frame) mutable {
    return before_s = time.seconds(frame[time.index], before_s);
  };
  return resampled(std::move(recording), time_of, even.start_time_s(), even.interval_s());
}

double last_place(std::string_view cell) {
  auto exponent_at = cell.find_first_of("eE");
  double exponent = 0.0;
  if (exponent_at != std::string_view::npos) {
    std::string_view digits = cell.substr(exponent_at + 1);
    if (digits.starts_with('+')) digits.remove_prefix(1);
    fast_float::from_chars(digits.data(), digits.data() + digits.size(), exponent);
  }
  std::string_view mantissa = cell.substr(0, exponent_at);
  auto point = mantissa.find_last_of(".,");
  double decimals = point == std::string_view::npos ? 0.0 : static_cast<double>(mantissa.size() - point - 1);
  return std::pow(10.0, exponent - decimals);
}

double rounding_of(std::span<const double> values) {
  constexpr int most_decimals = 9;
  double place = 1.0;
  for (int decimals = 0; decimals <= most_decimals; ++decimals, place /= 10.0) {
    auto fits = [place](double value) { return std::abs(value / place - std::round(value / place)) < 1e-4; };
    if (std::all_of(values.begin(), values.end(), fits)) return place;
  }
  return 0.0;
}

double last_place_of_date_time(std::string_view cell) {
  const auto date_time = date_time_of(cell);
  return date_time ? std::pow(10.0, -date_time->decimals) : 1.0;
}

}  // namespace counterspot
