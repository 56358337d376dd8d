#include "counterspot/drawing/titled.hpp"

#include <algorithm>

#include "counterspot/drawing/picture_words.hpp"
#include "drawing/fitted.hpp"
#include "drawing/sketch.hpp"

namespace counterspot {

namespace {

constexpr double title_margin_mm = 6.0;
constexpr double title_letters_mm = 3.6;
constexpr double title_line_mm = 6.2;
constexpr double between_mm = 7.0;

}  // namespace

std::vector<std::string> said_of(const PictureOf& of, const Words& words) {
  const PictureWords& texts = words.picture();
  std::vector<std::string> said;
  const auto say = [&](const char* text, const std::string& what) {
    if (!what.empty()) said.push_back(put_in(text, what));
  };
  say(texts.shaft, of.shaft);
  say(texts.job, of.job);
  say(texts.files_of, of.files_of);
  say(texts.as_of, of.as_of);
  say(texts.rig, of.rig);
  if (of.speed_rad_s) said.push_back(number_text(rpm(*of.speed_rad_s), 0, words) + words.rpm);
  if (of.verdict) say(texts.verdict, verdict_text(*of.verdict, words));
  said.emplace_back(of.units == UnitSystem::inch ? texts.inch : texts.metric);
  if (!of.program.empty()) said.push_back(of.program);
  return said;
}

Picture titled(const Picture& picture, const PictureOf& of, const Words& words) {
  Sketch sketch(picture.title, picture.width_mm, 0.0);
  const double right_mm = picture.width_mm - title_margin_mm;
  Point at{title_margin_mm, title_line_mm + 1.0};
  std::string said_together;
  for (const std::string& what : said_of(of, words)) {
    said_together += (said_together.empty() ? "" : ", ") + what;
    const Lettering text =
        fitted({at, what, title_letters_mm, Anchor::left, false, picture.width_mm - 2.0 * title_margin_mm});
    const double width_mm = std::min(width_of(text.words, text.height_mm), text.fit_mm);
    if (at.x > title_margin_mm && at.x + width_mm > right_mm) at = {title_margin_mm, at.y + title_line_mm};
    Lettering placed = text;
    placed.at = at;
    sketch.text(Role::text, placed, "title");
    at.x += width_mm + between_mm;
  }
  const double band_mm = at.y + 3.0;
  sketch.line(Role::quiet, {title_margin_mm, band_mm}, {right_mm, band_mm});
  put(sketch.picture(), picture, {0.0, band_mm});
  sketch.picture().height_mm = band_mm + picture.height_mm;
  sketch.picture().description = picture.description.empty() ? said_together : picture.description;
  return std::move(sketch.picture());
}

}  // namespace counterspot
