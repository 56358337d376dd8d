#pragma once

#include <fmt/format.h>

#include <cctype>
#include <string>
#include <string_view>

namespace counterspot {

/// A sentence as it stands in the code, in every language of the program side by side: one that is left out does not
/// compile. {} is where a number, a name or another sentence goes, in the same order in every language.
struct SaidWords {
  const char* en;
  const char* de;
};

/// A sentence with its parts put in, in every language.
struct Said {
  std::string en, de;

  const std::string& in(std::string_view language) const { return language == "de" ? de : en; }
  bool empty() const { return en.empty(); }
};

namespace inside {

template <typename Part>
const Part& part_in(const Part& part, std::string_view /*language*/) {
  return part;
}
inline const std::string& part_in(const Said& part, std::string_view language) {
  return part.in(language);
}

/// 0.5 is 0,5 there.
inline std::string with_decimal_comma(std::string text) {
  const auto digit = [&](std::size_t i) { return std::isdigit(static_cast<unsigned char>(text[i])) != 0; };
  for (std::size_t i = 1; i + 1 < text.size(); ++i)
    if (text[i] == '.' && digit(i - 1) && digit(i + 1)) text[i] = ',';
  return text;
}

}  // namespace inside

/// @param parts numbers and texts as fmt takes them, or what was said.
template <typename... Parts>
Said said(const SaidWords& words, const Parts&... parts) {
  return {fmt::format(fmt::runtime(words.en), inside::part_in(parts, "en")...),
          inside::with_decimal_comma(fmt::format(fmt::runtime(words.de), inside::part_in(parts, "de")...))};
}

}  // namespace counterspot
