#include "recording/date_time.hpp"

#include <chrono>
#include <cmath>
#include <cstring>

#include "units/text.hpp"

namespace counterspot {

namespace {

/// A cell as it is gone through; each step takes what it is for, or leaves everything where it was.
class DateTimeCell {
 public:
  DateTimeCell(const char* at, const char* end) : at_(at), end_(end) {}
  const char* at() const { return at_; }
  char peek(std::ptrdiff_t ahead = 0) const { return end_ - at_ > ahead ? at_[ahead] : '\0'; }

  bool one_of(const char* signs) {
    if (peek() == '\0' || std::strchr(signs, peek()) == nullptr) return false;
    ++at_;
    return true;
  }
  std::optional<int> digits(int least, int most) {
    int value = 0;
    int count = 0;
    while (count < most && peek(count) >= '0' && peek(count) <= '9') value = 10 * value + (peek(count++) - '0');
    if (count < least) return std::nullopt;
    at_ += count;
    return value;
  }
  bool word(std::string_view word) {  // in capitals or small letters
    for (std::size_t i = 0; i < word.size(); ++i)
      if ((peek(static_cast<std::ptrdiff_t>(i)) | 0x20) != word[i]) return false;
    at_ += word.size();
    return true;
  }
  void blanks() {
    while (peek() == ' ') ++at_;
  }

 private:
  const char* at_;
  const char* end_;
};

std::optional<std::int64_t> days_of(int year, int month, int day) {
  const std::chrono::year_month_day date{std::chrono::year(year), std::chrono::month(static_cast<unsigned>(month)),
                                         std::chrono::day(static_cast<unsigned>(day))};
  if (!date.ok()) return std::nullopt;
  return std::chrono::sys_days(date).time_since_epoch().count();
}

/// Which of two numbers is the month is only told where one is more than 12. It does not matter: a recording that goes
/// over midnight into another month is the only one to notice, and is refused for its step in time.
std::optional<std::int64_t> parse_date(DateTimeCell& cell) {
  DateTimeCell from = cell;
  const auto first = from.digits(1, 4);
  const char sign = from.peek();
  if (!first || !from.one_of("-/.")) return std::nullopt;
  const auto second = from.digits(1, 2);
  if (!second || from.peek() != sign || !from.one_of("-/.")) return std::nullopt;
  const auto third = from.digits(1, 4);
  if (!third || (*first < 1000 && *third < 1000)) return std::nullopt;
  const int year = *first >= 1000 ? *first : *third;
  const int other = *first >= 1000 ? *third : *first;
  auto day = other > 12 || *second <= 12 ? days_of(year, *second, other) : days_of(year, other, *second);
  if (day) cell = from;
  return day;
}

bool parse_time_of_day(DateTimeCell& cell, DateTime& date_time, bool may_have_comma) {
  DateTimeCell from = cell;
  const auto hours = from.digits(1, 2);
  if (!hours || !from.one_of(":")) return false;
  const auto minutes = from.digits(2, 2);
  if (!minutes || *hours > 24 || *minutes > 59) return false;
  date_time.seconds = 3600.0 * *hours + 60.0 * *minutes;
  if (from.one_of(":")) {
    const auto seconds = from.digits(1, 2);
    if (!seconds || *seconds > 60) return false;
    double part = 0.0;
    if ((from.peek() == '.' || (may_have_comma && from.peek() == ',')) && from.peek(1) >= '0' && from.peek(1) <= '9') {
      from.one_of(".,");
      double digits = 0.0;
      for (; from.peek() >= '0' && from.peek() <= '9' && date_time.decimals < 15; ++date_time.decimals)
        digits = 10.0 * digits + *from.digits(1, 1);
      part = digits / std::pow(10.0, date_time.decimals);
    }
    date_time.seconds += *seconds + part;
  }
  DateTimeCell behind = from;
  behind.blanks();
  const bool afternoon = behind.word("pm");
  if (afternoon || behind.word("am")) {
    date_time.seconds += 3600.0 * ((afternoon ? 12 : 0) - (*hours == 12 ? 12 : 0));
    from = behind;
  }
  date_time.has_time = true;
  cell = from;
  return true;
}

/// "Z", "+01:00", "-0500".
void skip_zone(DateTimeCell& cell) {
  if (cell.one_of("Zz")) return;
  DateTimeCell from = cell;
  if (!from.one_of("+-") || !from.digits(2, 2)) return;
  from.one_of(":");
  if (from.digits(2, 2)) cell = from;
}

}  // namespace

std::optional<DateTime> parse_date_time(const char*& at, const char* end, bool may_have_comma) {
  DateTime date_time;
  DateTimeCell cell(at, end);
  if (const auto day = parse_date(cell)) {
    date_time.day = *day;
    date_time.has_date = true;
    DateTimeCell behind = cell;
    if (!behind.one_of("Tt_")) behind.blanks();
    if (parse_time_of_day(behind, date_time, may_have_comma)) cell = behind;
  } else if (!parse_time_of_day(cell, date_time, may_have_comma)) {
    return std::nullopt;
  }
  if (date_time.has_time) skip_zone(cell);
  at = cell.at();
  return date_time;
}

std::optional<DateTime> date_time_of(std::string_view cell) {
  cell = trimmed(cell);
  const char* at = cell.data();
  const auto date_time = parse_date_time(at, cell.data() + cell.size(), true);
  return at == cell.data() + cell.size() ? date_time : std::nullopt;
}

}  // namespace counterspot
