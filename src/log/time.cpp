#include <fmt/chrono.h>

#include <chrono>

#include "counterspot/log/log.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

namespace chrono = std::chrono;

std::int64_t now_unix_s() {
  return chrono::duration_cast<chrono::seconds>(chrono::system_clock::now().time_since_epoch()).count();
}

std::string utc_text(std::int64_t unix_s) {
  return fmt::format("{:%FT%TZ}", fmt::gmtime(static_cast<std::time_t>(unix_s)));
}

std::string utc_day(std::int64_t unix_s) {
  return utc_text(unix_s).substr(0, 10);
}

std::string utc_minute(std::int64_t unix_s) {
  return utc_day(unix_s) + " " + utc_text(unix_s).substr(11, 5) + " UTC";
}

std::int64_t unix_time_of(const std::string& text) {
  int year = 0;
  unsigned month = 0;
  unsigned day = 0;
  int hour = 0;
  int minute = 0;
  int second = 0;
  int used = 0;
  const char* digits = text.c_str();
  bool read = std::sscanf(digits, "%4d-%2u-%2u%n", &year, &month, &day, &used) == 3;  // NOLINT(cert-err34-c)
  if (read && digits[used] == 'T') {
    int more = 0;
    read = std::sscanf(digits + used, "T%2d:%2d:%2dZ%n", &hour, &minute, &second, &more) == 3;  // NOLINT(cert-err34-c)
    used += more;
  }
  const chrono::year_month_day date{chrono::year(year), chrono::month(month), chrono::day(day)};
  if (!read || static_cast<std::size_t>(used) != text.size() || !date.ok() || hour > 23 || minute > 59 || second > 59) {
    throw Error(Trouble::request, "bad_time", fmt::format("'{}' is not a date", text),
                "write it like 2026-11-25, or 2026-11-25T13:05:00Z");
  }
  return chrono::sys_seconds(chrono::sys_days(date)).time_since_epoch().count() + hour * 3600 + minute * 60 + second;
}

}  // namespace counterspot
