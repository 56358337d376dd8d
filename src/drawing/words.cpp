#include "counterspot/drawing/words.hpp"

#include <fmt/format.h>

#include "counterspot/tolerance/tolerance.hpp"
#include "counterspot/units/error.hpp"
#include "counterspot/units/measured.hpp"

namespace counterspot {

const Words& words_in(std::string_view language) {
  for (const Words* words : {&english(), &german()}) {
    if (language == words->language) return *words;
  }
  throw Error(Trouble::request, "no_such_language", fmt::format("there are no words in the language '{}'", language),
              "the languages are en and de");
}

const char* verdict_text(Verdict verdict, const Words& words) {
  switch (verdict) {
    case Verdict::within: return words.within;
    case Verdict::outside: return words.outside;
    case Verdict::unsure: return words.unsure;
  }
  return words.unsure;
}

std::string put_in(const char* text, std::string_view what) {
  std::string result = text;
  const auto at = result.find("{}");
  if (at != std::string::npos) result.replace(at, 2, what);
  return result;
}

std::string with_decimal_sign(std::string text, const Words& words) {
  for (std::size_t i = 1; i + 1 < text.size(); ++i) {
    const auto digit = [&](std::size_t at) { return text[at] >= '0' && text[at] <= '9'; };
    if (text[i] == '.' && digit(i - 1) && digit(i + 1)) text.replace(i, 1, words.decimal_point);
  }
  return text;
}

std::string number_text(double value, int decimals, const Words& words) {
  return with_decimal_sign(fmt::format("{:.{}f}", value, decimals), words);
}

std::string measured_text(double value, double expanded_uncertainty, const Words& words) {
  return with_decimal_sign(measured_text(value, expanded_uncertainty), words);
}

}  // namespace counterspot
