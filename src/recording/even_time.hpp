#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "counterspot/units/error.hpp"
#include "counterspot/units/warning.hpp"

namespace counterspot {

/// A time as read from a table.
struct TimeOfRow {
  double time_s = 0.0;
  std::int64_t line = 0;  ///< or frame, from 1
};

/// Holds the times of a recording against even spacing t_k = t_0 + k/f_s, whose two constants come from least squares
/// over all rows so far: over the first rows when it is made, then over more and more. Times rounded to `rounding_s`
/// scatter by half of it; that is no unevenness. With n rows the rate is known to about 2·rounding·f_s/n^(3/2)
/// (standard deviation of the slope of a line through evenly spaced points, any textbook on regression). A row that is
/// left out puts all that follow off by a whole interval, while times that waver come back: up to 0.6 of an interval is
/// taken for wavering.
class EvenTime {
 public:
  /// @param first at least 2 rows. @param place what `line` counts, in messages.
  /// @throws Error(recording, "uneven_time").
  EvenTime(std::string name, std::span<const TimeOfRow> first, double rounding_s, const char* place = "line");

  double interval_s() const { return interval_s_; }
  /// Of row 0: as written, or where the times waver, on the line through the first rows.
  double start_time_s() const { return wavers_ ? start_s_ + first_offset_s_ : start_s_; }
  bool wavers() const { return wavers_; }  ///< by so much in the first rows that samples have to be read at their times
  Warnings warnings() const;

  /// The time of the next row, from row 0 on. False if it is not even; then nothing has changed.
  bool accept(double time_s) {
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

  /// Times of later rows may have fewer decimals, as where a recorder writes so many digits in all.
  void round_to(double rounding_s);

  /// @throws Error(recording, "uneven_time"): what is wrong with a row that was not taken.
  [[noreturn]] void refuse(const TimeOfRow& row) const;

 private:
  double residual(double time_s, double index) const { return time_s - start_s_ - interval_s_ * index; }
  void fit();
  void refuse_standing(std::span<const TimeOfRow> first);
  void refuse_lost(std::span<const TimeOfRow> first) const;
  [[noreturn]] void refuse_jump(std::span<const TimeOfRow> first) const;

  std::string name_;
  const char* place_;
  double rounding_s_;
  double start_s_;
  double interval_s_;
  double allowed_s_;
  double first_offset_s_ = 0.0;
  bool wavers_ = false;
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
/// What numbers are rounded to, from 1 to 1e-9; 0 if to less.
double rounding_of(std::span<const double> values);
/// The same as `last_place` of a time of day, in seconds: "10:11:12.5" → 0.1.
double last_place_of_date_time(std::string_view cell);

}  // namespace counterspot
