#include "counterspot/words.hpp"

#include <fmt/format.h>

#include "counterspot/error.hpp"

namespace counterspot {

const Words& words_in(std::string_view language) {
  for (const Words* words : {&english(), &german()}) {
    if (language == words->language) return *words;
  }
  throw Error(Trouble::request, "no_such_language", fmt::format("there are no words in the language '{}'", language),
              "the languages are en and de");
}

std::string put_in(const char* text, std::string_view what) {
  std::string result = text;
  const auto at = result.find("{}");
  if (at != std::string::npos) result.replace(at, 2, what);
  return result;
}

std::string number_text(double value, int decimals, const Words& words) {
  std::string text = fmt::format("{:.{}f}", value, decimals);
  const auto point = text.find('.');
  if (point != std::string::npos) text.replace(point, 1, words.decimal_point);
  return text;
}

}  // namespace counterspot
