#include "report/text.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <cmath>

#include "counterspot/drawing/instruction_words.hpp"

namespace counterspot {

std::string sentence_of(const Error& error) {
  return std::string(error.what()) + "; " + error.remedy();
}

std::string text_of(const SensorReading& reading, const Words& words) {
  return with_decimal_sign(say(words.instruction().reading,
                               fmt::format("{:.4g}", std::abs(reading.value) / si_per_display_unit(reading.motion)),
                               display_unit(reading.motion), fmt::format("{:.1f}", direction_deg(reading.value))),
                           words);
}

std::string tape_and_angle_text(const Spot& spot, UnitSystem units, const Words& words) {
  const InstructionWords& texts = words.instruction();
  const std::string angle = say(texts.shaft_angle, number_text(degrees(spot.angle_rad), 1, words));
  if (!spot.arc) return angle;
  const std::string length = tape_text(spot.arc->length_m, units);
  if (length == tape_text(0.0, units)) return say(texts.at_mark, angle);
  const bool with = spot.arc->direction == ArcDirection::with_rotation;
  return say(texts.tape_from_mark, length, with ? words.with_rotation : words.against_rotation, angle);
}

std::string spot_text(const Spot& spot, UnitSystem units) {
  return spot.clock.text() + ", " + tape_and_angle_text(spot, units);
}

const char* verdict_text(Verdict verdict, const Words& words) {
  switch (verdict) {
    case Verdict::within: return words.within;
    case Verdict::outside: return words.outside;
    case Verdict::unsure: return words.unsure;
  }
  return "";
}

std::string meaning_text(std::string_view code, const std::string& said, const std::vector<std::string>& sensors,
                         const Words& words) {
  const std::string_view meaning = words.of_warning != nullptr ? words.of_warning(code) : std::string_view();
  if (meaning.empty()) return said;
  std::vector<std::string> named = sensors;
  std::erase_if(named, [](const std::string& name) { return name.empty() || name == "tach"; });
  return (named.empty() ? "" : put_in(words.sensor, fmt::format("{}", fmt::join(named, ", "))) + ": ") +
         std::string(meaning);
}

std::string meaning_text(const Warning& warning, const Words& words) {
  const std::vector one{warning.sensor.value_or("")};
  return meaning_text(warning_code(warning.code), warning.message, warning.sensors.empty() ? one : warning.sensors,
                      words);
}

std::string remedy_text(std::string_view code, const std::string& said, const Words& words) {
  const std::string_view remedy = words.of_remedy != nullptr ? words.of_remedy(code) : std::string_view();
  return remedy.empty() ? said : std::string(remedy);
}

std::string spins_text(const std::vector<std::string>& spins, const Words& words) {
  if (spins.empty()) return "";
  const InstructionWords& texts = words.instruction();
  return put_in(spins.size() > 1 ? texts.of_spins : texts.of_spin, fmt::format("{}", fmt::join(spins, "', '")));
}

std::string cautions(const Words& words) {
  const InstructionWords& texts = words.instruction();
  const std::string margin = "\n" + std::string(std::string_view(texts.caution).size() + 2, ' ');
  return fmt::format("{}  {}\n", texts.caution, fmt::join(texts.caution_lines, margin));
}

}  // namespace counterspot
