#include <fmt/format.h>

#include "sheet/html_text.hpp"
#include "sheet/text.hpp"

namespace counterspot {

std::string sheet_html(const Sheet& sheet, const Words& words, UnitSystem units) {
  std::string facts = "<table>\n";
  for (const auto& [name, value] : facts_of(sheet, words))
    facts += fmt::format("<tr><th>{}</th><td>{}</td></tr>\n", escaped(name), escaped(value));
  facts += "</table>\n";
  std::string pictures;
  for (std::size_t p = 0; p < sheet.faces.size(); ++p) {
    pictures += html_image(clock_picture(sheet.faces[p], words));
    if (p < sheet.diagrams.size()) pictures += html_image(vector_picture(sheet.diagrams[p], words));
  }
  std::string recordings = "<table>\n";
  for (const SheetSpin& spin : sheet.spins)
    recordings +=
        fmt::format("<tr><td>{}</td><td class=\"hash\">{}</td></tr>\n", escaped(spin_words(spin, words)), spin.sha256);
  recordings += "</table>\n";
  const std::string verdict_class = sheet.verdict ? std::string(verdict_name(*sheet.verdict)) : "unsure";
  const auto notes = notes_of(sheet, words, units);
  return html_head(words.language, fmt::format("{} {}", words.sheet_title, sheet.job)) +
         fmt::format("<h1>{}</h1>\n<p>{}</p>\n<p class=\"verdict {}\">{}</p>\n", words.sheet_title, escaped(sheet.job),
                     verdict_class, verdict_words(sheet, words)) +
         facts + (sheet.places.empty() ? "" : html_table(places_table(sheet, words))) +
         html_paragraphs(rule_words(sheet, words)) + fmt::format("<h2>{}</h2>\n", words.pieces) +
         (sheet.pieces.empty() ? fmt::format("<p>{}</p>\n", words.no_pieces)
                               : html_table(pieces_table(sheet, words, units))) +
         pictures + (notes.empty() ? "" : fmt::format("<h2>{}</h2>\n", words.notes) + html_paragraphs(notes)) +
         fmt::format("<h2>{}</h2>\n", words.recordings) + recordings +
         html_paragraphs({seal_words(sheet, words), words.cautions, put_in(words.program, sheet.program)}) +
         "</html>\n";
}

}  // namespace counterspot
