#include "counterspot/units/measured.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace counterspot {

namespace {

/// Of the last of so many digits of a value that is not zero, once it is rounded to them.
int place_of_digit(double value, int digits) {
  const int place = static_cast<int>(std::floor(std::log10(value))) - digits + 1;
  return std::round(value / std::pow(10.0, place)) < std::pow(10.0, digits) ? place : place + 1;
}

bool has_digits(double value) {
  return std::isfinite(value) && value != 0.0;
}

}  // namespace

int last_place(double expanded_uncertainty) {
  return place_of_digit(expanded_uncertainty, 2);
}

std::string rounded_text(double value, int place) {
  const double step = std::pow(10.0, std::max(place, 0));
  const double rounded = step > 1.0 ? step * std::round(value / step) : value;
  const std::string text = fmt::format("{:.{}f}", rounded, std::max(-place, 0));
  const bool nothing_left = text.find_first_of("123456789") == std::string::npos;
  return text.front() == '-' && nothing_left ? text.substr(1) : text;
}

std::string significant_text(double value, int digits) {
  return has_digits(value) ? rounded_text(value, place_of_digit(std::abs(value), digits)) : fmt::format("{:g}", value);
}

std::string measured_text(double value, double expanded_uncertainty) {
  if (!has_digits(expanded_uncertainty) || expanded_uncertainty < 0.0) return significant_text(value, 4);
  const int place = last_place(expanded_uncertainty);
  return rounded_text(value, place) + " ± " + rounded_text(expanded_uncertainty, place);
}

}  // namespace counterspot
