#include <fmt/format.h>

#include "sheet/html_text.hpp"
#include "sheet/text.hpp"

namespace counterspot {

namespace {

std::string html_heading(std::string_view text) {
  return fmt::format("<h2>{}</h2>\n", escaped(text));
}

std::string pieces_in_html(const Sheet& sheet, const Words& words, UnitSystem units) {
  std::string text = html_heading(words.pieces);
  text += sheet.pieces.empty() ? html_paragraphs({words.no_pieces}) : html_table(pieces_table(sheet, words, units));
  const std::string off_again = off_again_words(sheet, words, units);
  return off_again.empty() ? text : text + html_paragraphs({off_again});
}

std::string recordings_in_html(const Sheet& sheet, const Words& words) {
  std::string text = html_heading(words.recordings) + "<table>\n";
  for (const SheetSpin& spin : sheet.spins)
    text +=
        fmt::format("<tr><td>{}</td><td class=\"hash\">{}</td></tr>\n", escaped(spin_words(spin, words)), spin.sha256);
  return text + "</table>\n";
}

std::string pictures_in_html(const Sheet& sheet, const Words& words) {
  std::vector<Picture> pictures;
  for (std::size_t p = 0; p < sheet.faces.size(); ++p) {
    pictures.push_back(clock_picture(sheet.faces[p], words));
    if (p < sheet.diagrams.size()) pictures.push_back(vector_picture(sheet.diagrams[p], words));
  }
  return html_pictures(pictures);
}

}  // namespace

std::string sheet_html(const Sheet& sheet, const Words& words, UnitSystem units) {
  const std::string look = sheet.verdict ? std::string(verdict_name(*sheet.verdict)) : "unsure";
  const auto notes = notes_of(sheet, words, units);
  return html_head(words.language, fmt::format("{} {}", words.sheet_title, sheet.job)) +
         html_title(words.sheet_title, sheet.job, verdict_words(sheet, words), look) +
         html_facts(facts_of(sheet, words, units)) +
         (sheet.places.empty() ? "" : html_table(places_table(sheet, words, units))) +
         html_paragraphs(rule_words(sheet, words)) + pieces_in_html(sheet, words, units) +
         pictures_in_html(sheet, words) + (notes.empty() ? "" : html_heading(words.notes) + html_paragraphs(notes)) +
         recordings_in_html(sheet, words) +
         html_paragraphs({seal_words(sheet, words), words.cautions, put_in(words.program, sheet.program)}) +
         html_signatures({words.balanced_by, words.inspected_by}, words.date_and_signature) + "</html>\n";
}

}  // namespace counterspot
