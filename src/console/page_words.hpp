#pragma once

#include <cstdint>
#include <string>

#include "counterspot/drawing/words.hpp"
#include "counterspot/placement/shop_words.hpp"
#include "counterspot/tracking/shaft_motion.hpp"
#include "report/json.hpp"
#include "report/text.hpp"

namespace counterspot {

/// Every text of the page in one language: what it says by itself, and what it is told to say. The tables are
/// page/words_….json; both have the same keys, which a test holds. {} is where a number, a name or another text goes.
class PageWords {
 public:
  const Words& words() const { return *words_; }
  const Json& texts() const { return texts_; }
  template <typename... Parts>
  std::string operator()(const char* key, const Parts&... parts) const {
    return say(texts_.at(key).get_ref<const std::string&>().c_str(), parts...);
  }
  /// "standing", "turning", or why it may be turning: English as the watch says it.
  std::string motion(const ShaftMotion& motion) const;

 private:
  friend const PageWords& page_words_in(std::string_view language);
  PageWords(const Words& words, std::string_view texts) : words_(&words), texts_(Json::parse(texts)) {}
  const Words* words_;
  Json texts_;
};
const PageWords& page_words_in(std::string_view language);  ///< English, if there is no such language

/// Who looks at the page.
struct Viewer {
  UnitSystem units = UnitSystem::metric;
  const PageWords& texts = page_words_in("en");

  const Words& words() const { return texts.words(); }
  std::string number(double value, int decimals) const { return number_text(value, decimals, words()); }
  std::string speed(double rad_s) const { return number(rpm(rad_s), 0); }
  /// As an address says it.
  const char* units_name() const { return units == UnitSystem::inch ? "inch" : "metric"; }
  /// Warnings, and what holds a verdict back, as the viewer is told of them.
  Json told(Json warnings) const;
};

/// Where the page finds a picture in the viewer's language, light and dark. @param address ends with '?' or '&'.
Json pictures_at(const std::string& address, const Viewer& viewer);

/// "2026-11-30 16:05", by the clock of this machine, which stands at the rig. What is kept, and the sheet, says UTC.
std::string local_minute(std::int64_t unix_s);

}  // namespace counterspot
