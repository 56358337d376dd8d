#include "console/page_words.hpp"

#include <fmt/chrono.h>

#include "console/assets.hpp"

namespace counterspot {

namespace {

/// The text for it, and what goes into it before `slowest_pulse_s`.
std::pair<const char*, std::string> doubt_of(const MotionEvidence& evidence, const Words& words) {
  using Sensors = MotionEvidence::Sensors;
  if (evidence.tach == MotionEvidence::Tach::lost) {
    if (!(evidence.last_speed_rad_s > 0.0)) return {"tach_lost", ""};
    return {"tach_lost_at", number_text(rpm(evidence.last_speed_rad_s), 0, words)};
  }
  if (evidence.no_pulse_s < slowest_pulse_s) return {"no_pulse", number_text(evidence.no_pulse_s, 0, words)};
  if (evidence.shakes_as_when_turning() && evidence.sensors == Sensors::unlearned) return {"as_when_turning", ""};
  if (evidence.tach == MotionEvidence::Tach::silent) return {"no_pulse_yet", ""};
  switch (evidence.sensors) {
    case Sensors::vibrating: return {"vibrating", evidence.sensor};
    case Sensors::gone: return {"gone", evidence.sensor};
    case Sensors::no_signal: return {"no_signal", evidence.sensor};
    case Sensors::unlearned:
    case Sensors::at_rest: break;
  }
  return {"rest_unknown", ""};
}

}  // namespace

std::string PageWords::motion(const ShaftMotion& motion) const {
  const Json& texts = texts_.at("motion");
  if (texts.is_null()) return motion.words;
  const auto [key, part] = motion.turning == Turning::unknown ? doubt_of(motion.evidence, *words_)
                                                              : std::pair(turning_name(motion.turning), std::string());
  return say(texts.at(key).get_ref<const std::string&>().c_str(), part, number_text(slowest_pulse_s, 0, *words_));
}

const PageWords& page_words_in(std::string_view language) {
  static const PageWords in_english(english(), page_words_en);
  static const PageWords in_german(german(), page_words_de);
  return language == german().language ? in_german : in_english;
}

Json Viewer::told(Json warnings) const {
  for (Json& each : warnings) {
    const std::string code = each["code"];
    each["message"] = meaning_text(code, each["message"], each["sensors"], words());
    if (each.contains("remedy")) each["remedy"] = remedy_text(code, each["remedy"], words());
  }
  return warnings;
}

Json pictures_at(const std::string& address, const Viewer& viewer) {
  const std::string in_theme = address + "language=" + viewer.words().language + "&theme=";
  return {{"light", in_theme + "light"}, {"dark", in_theme + "dark"}};
}

std::string local_minute(std::int64_t unix_s) {
  return fmt::format("{:%Y-%m-%d %H:%M}", fmt::localtime(static_cast<std::time_t>(unix_s)));
}

}  // namespace counterspot
