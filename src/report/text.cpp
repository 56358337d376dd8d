#include "report/text.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <cmath>

#include "counterspot/drawing/words.hpp"
#include "counterspot/guide/cautions.hpp"

namespace counterspot {

std::string sentence_of(const Error& error) {
  return std::string(error.what()) + "; " + error.remedy();
}

std::string measured(double value, double expanded_uncertainty) {
  return measured_text(value, expanded_uncertainty, english());
}

std::string text_of(const SensorReading& reading) {
  return fmt::format("{:.4g} {} at {:.1f} deg", std::abs(reading.value) / si_per_display_unit(reading.motion),
                     display_unit(reading.motion), direction_deg(reading.value));
}

std::string cautions() {
  return fmt::format("CAUTION  {}\n", fmt::join(caution_lines, "\n         "));
}

}  // namespace counterspot
