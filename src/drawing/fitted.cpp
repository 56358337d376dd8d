#include "drawing/fitted.hpp"

#include <cctype>
#include <sstream>

namespace counterspot {

namespace {

constexpr const char* ellipsis = "…";

/// Where each letter begins, and the end: UTF-8 goes on with bytes 10xxxxxx.
std::vector<std::size_t> letters_of(const std::string& words) {
  std::vector<std::size_t> begins;
  for (std::size_t i = 0; i < words.size(); ++i)
    if ((static_cast<unsigned char>(words[i]) & 0xC0U) != 0x80U) begins.push_back(i);
  begins.push_back(words.size());
  return begins;
}

bool surely_fits(const std::string& words, double height_mm, double width_mm) {
  return widest_letter * height_mm * static_cast<double>(letters_of(words).size() - 1) <= width_mm;
}

/// Words, a number with the unit behind it as one (ISO 80000-1:2009, 7.1.4, from memory: a space between them; that no
/// line may end there is common practice, no source).
std::vector<std::string> unbroken_words(const std::string& words) {
  constexpr std::size_t longest_unit = 3;  // "mm,"
  std::vector<std::string> list;
  std::istringstream all(words);
  for (std::string word; all >> word;) {
    const bool number_before = !list.empty() && std::isdigit(static_cast<unsigned char>(list.back().back())) != 0;
    const bool unit = word.size() <= longest_unit && std::isalpha(static_cast<unsigned char>(word.front())) != 0;
    if (number_before && unit) {
      list.back() += " " + word;
    } else {
      list.push_back(word);
    }
  }
  return list;
}

}  // namespace

double width_of(const std::string& words, double height_mm, bool heavy) {
  Picture alone;
  Shape& shape = alone.shapes.emplace_back();
  shape.role = Role::text;
  shape.form = Lettering{{}, words, height_mm, Anchor::left, heavy};
  const auto boxes = text_boxes(alone);
  return boxes.empty() ? 0.0 : boxes.front().width_mm;
}

Lettering fitted(Lettering text) {
  if (text.fit_mm <= 0.0 || surely_fits(text.words, text.height_mm, text.fit_mm)) return text;
  const double least_mm = least_of_height * text.height_mm;
  const auto fits = [&](const std::string& words) { return width_of(words, least_mm, text.heavy) <= text.fit_mm; };
  if (fits(text.words)) return text;
  const std::vector<std::size_t> letters = letters_of(text.words);
  std::size_t kept = 0;
  for (std::size_t beyond = letters.size(); beyond - kept > 1;) {
    const std::size_t middle = (kept + beyond) / 2;
    (fits(text.words.substr(0, letters[middle]) + ellipsis) ? kept : beyond) = middle;
  }
  text.words = text.words.substr(0, letters[kept]) + ellipsis;
  return text;
}

std::vector<std::string> wrapped(const std::string& words, double height_mm, double width_mm) {
  if (surely_fits(words, height_mm, width_mm)) return {words};
  std::vector<std::string> lines;
  for (const std::string& word : unbroken_words(words)) {
    const std::string longer = lines.empty() ? word : lines.back() + " " + word;
    if (!lines.empty() && width_of(longer, height_mm) <= width_mm) {
      lines.back() = longer;
    } else {
      lines.push_back(word);
    }
  }
  return lines;
}

}  // namespace counterspot
