#include "console/page_words.hpp"

#include <fmt/chrono.h>

#include "console/assets.hpp"

namespace counterspot {

namespace {

/// What goes into the text of a doubt before `slowest_pulse_s`.
std::string part_of_doubt(MotionDoubt doubt, const MotionEvidence& evidence, const Words& words) {
  if (doubt == MotionDoubt::tach_lost_at) return number_text(rpm(evidence.last_speed_rad_s), 0, words);
  if (doubt == MotionDoubt::no_pulse) return number_text(evidence.no_pulse_s, 0, words);
  return evidence.sensor;
}

}  // namespace

std::string PageWords::motion(const ShaftMotion& motion) const {
  const Json& texts = texts_.at("motion");
  if (texts.is_null()) return motion.words;
  const bool doubted = motion.turning == Turning::unknown;
  const MotionDoubt doubt = doubt_of(motion.evidence);
  const char* const key = doubted ? motion_doubt_name(doubt) : turning_name(motion.turning);
  const std::string part = doubted ? part_of_doubt(doubt, motion.evidence, *words_) : "";
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
