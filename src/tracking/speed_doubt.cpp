#include "tracking/speed_doubt.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace counterspot {
namespace {

constexpr double slowest_rpm = 10.0;
constexpr double fastest_rpm = 60e3;
constexpr double doubted_rpm = 15e3;

/// n, if all sensors speak for one nth of the tach's speed.
std::optional<int> marks_seen(const std::vector<ChannelWatch>& sensors) {
  std::optional<int> marks;
  for (const ChannelWatch& sensor : sensors) {
    const auto here = sensor.spectrum().marks_a_turn();
    if (!here || (marks && *marks != *here)) return std::nullopt;
    marks = here;
  }
  return marks;
}

}  // namespace

std::optional<Error> impossible_speed(const Track& track) {
  const double speed_rpm = rpm(track.speed_rad_s);
  if (speed_rpm < slowest_rpm) {
    return Error(
        Trouble::recording, "impossible_speed",
        fmt::format("{}: the tach shows {:.3g} rpm, which is no speed to balance at", track.file, speed_rpm),
        "times are read as s: write the unit into the column's head if they are in ms, such as 'time (ms)', and "
        "check the sample rate");
  }
  if (speed_rpm > fastest_rpm) {
    return Error(Trouble::recording, "impossible_speed",
                 fmt::format("{}: the tach shows {:.0f} rpm, which no drive shaft turns at", track.file, speed_rpm),
                 "count the marks or teeth that pass the tach in a turn and say pulses_per_revolution in the rig file, "
                 "and check the sample rate and the unit of time");
  }
  return std::nullopt;
}

void report_doubted_speed(Track& track, const std::vector<ChannelWatch>& sensors) {
  const double speed_rpm = rpm(track.speed_rad_s);
  if (const auto marks = marks_seen(sensors)) {
    track.warnings.push_back(
        {WarningCode::speed_doubted, "tach",
         fmt::format("tach: the sensors speak for {:.0f} rpm and not for {:.0f}, as if the tach saw {} marks a turn "
                     "where one is stated",
                     speed_rpm / *marks, speed_rpm, *marks)});
  } else if (speed_rpm > doubted_rpm) {
    track.warnings.push_back(
        {WarningCode::speed_doubted, "tach",
         fmt::format("tach: it shows {:.0f} rpm, more than drive shafts are turned at; count the marks that pass it in "
                     "a turn",
                     speed_rpm)});
  }
}

}  // namespace counterspot
