#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "counterspot/units/error.hpp"

namespace counterspot {

/// A time as read from a table.
struct TimeOfRow {
  double time_s = 0.0;
  std::int64_t line = 0;
};

/// Holds the times of a table against even spacing t_k = t_0 + k/f_s, whose two constants come from least squares over
/// all rows so far: over the first rows when it is made, then over more and more. Times rounded to `rounding_s` scatter
/// by half of it; that is no unevenness. With n rows the rate is known to about 2·rounding·f_s/n^(3/2) (standard
/// deviation of the slope of a line through evenly spaced points, any textbook on regression).
class EvenTime {
 public:
  /// @param first at least 2 rows; @param tolerance in sample intervals.
  /// @throws Error(recording, "uneven_time").
  EvenTime(std::string name, std::span<const TimeOfRow> first, double rounding_s, double tolerance);

  double interval_s() const { return interval_s_; }
  double worst_departure() const { return worst_s_ / interval_s_; }  ///< in sample intervals, rounding taken off

  /// The time of the next row, from row 0 on. False if it is not even; then nothing has changed.
  bool take(double time_s) {
    double beside = residual(time_s, index_);
    double departure = beside - (offset_s_ + slope_s_ * index_);
    if (!(departure <= allowed_s_ && departure >= -allowed_s_) || !(time_s > previous_s_)) return false;
    double beyond = (departure < 0.0 ? -departure : departure) - rounding_s_ / 2.0;
    worst_s_ = beyond > worst_s_ ? beyond : worst_s_;
    sum_ += beside;
    moment_ += beside * index_;
    previous_s_ = time_s;
    index_ += 1.0;
    if (index_ >= next_fit_) fit();
    return true;
  }

  /// @throws Error(recording, "uneven_time"): what is wrong with a row that was not taken.
  [[noreturn]] void refuse(const TimeOfRow& row) const;

 private:
  double residual(double time_s, double index) const { return time_s - start_s_ - interval_s_ * index; }
  void fit();
  void refuse_standing(std::span<const TimeOfRow> first);
  [[noreturn]] void refuse_jump(std::span<const TimeOfRow> first) const;

  std::string name_;
  double rounding_s_;
  double start_s_;
  double interval_s_;
  double allowed_s_;
  double offset_s_ = 0.0;  ///< the line through the residuals
  double slope_s_ = 0.0;
  double sum_ = 0.0;  ///< of residuals, and of residual times index
  double moment_ = 0.0;
  double index_ = 0.0;
  double next_fit_;
  double previous_s_;
  double worst_s_ = 0.0;
};

/// What one unit in the last place of a written number is: "0.0125" → 1e-4, "1.917,24" → 1e-2.
double last_place(std::string_view cell);
/// The same of a time of day, in seconds: "10:11:12.5" → 0.1.
double last_place_of_date_time(std::string_view cell);

}  // namespace counterspot
