#include <fmt/format.h>

#include <string_view>

#include "sheet/text.hpp"

namespace counterspot {

namespace {

std::string escaped(std::string_view text) {
  std::string safe;
  for (const char letter : text) {
    switch (letter) {
      case '&': safe += "&amp;"; break;
      case '<': safe += "&lt;"; break;
      case '>': safe += "&gt;"; break;
      case '"': safe += "&quot;"; break;
      default: safe += letter;
    }
  }
  return safe;
}

/// RFC 4648, 4.
std::string base64(std::string_view bytes) {
  constexpr std::string_view digits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string text;
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    const auto byte = [&](std::size_t k) {
      return i + k < bytes.size() ? static_cast<unsigned char>(bytes[i + k]) : 0U;
    };
    const unsigned group = byte(0) << 16U | byte(1) << 8U | byte(2);
    for (unsigned k = 0; k < 4; ++k) text += i + k > bytes.size() ? '=' : digits[group >> (18U - 6U * k) & 63U];
  }
  return text;
}

/// A picture within the page: as an image, so that the names within two drawings cannot meet.
std::string image(const Picture& picture) {
  return fmt::format("<img alt=\"{}\" src=\"data:image/svg+xml;base64,{}\">\n", escaped(picture.title),
                     base64(draw(picture, {})));
}

std::string table(const std::vector<Row>& rows) {
  std::string text = "<table>\n";
  for (std::size_t r = 0; r < rows.size(); ++r) {
    text += "<tr>";
    for (const std::string& cell : rows[r]) text += fmt::format("<{0}>{1}</{0}>", r == 0 ? "th" : "td", escaped(cell));
    text += "</tr>\n";
  }
  return text + "</table>\n";
}

std::string paragraphs(const std::vector<std::string>& sentences) {
  std::string text;
  for (const std::string& sentence : sentences) text += fmt::format("<p>{}</p>\n", escaped(sentence));
  return text;
}

const char* const style =
    "body{max-width:60em;margin:2em auto;padding:0 1em;font:18px/1.4 osifont,sans-serif;background:#fff;color:#101010}"
    "table{border-collapse:collapse;width:100%}th,td{text-align:left;padding:.2em .6em .2em 0;border-bottom:1px solid "
    "#c4c4c4}"
    "th{font-weight:normal;color:#555}.verdict{display:inline-block;border:4px solid;padding:.2em 1em;font-size:2em}"
    ".outside{border-style:dashed;color:#a84300}.unsure{border-style:dotted}img{width:49%;min-width:20em}p{margin:.3em "
    "0}"
    ".hash{overflow-wrap:anywhere}";

}  // namespace

std::string sheet_html(const Sheet& sheet, const Words& words, UnitSystem units) {
  std::string facts = "<table>\n";
  for (const auto& [name, value] : facts_of(sheet, words))
    facts += fmt::format("<tr><th>{}</th><td>{}</td></tr>\n", escaped(name), escaped(value));
  facts += "</table>\n";
  std::string pictures;
  for (std::size_t p = 0; p < sheet.faces.size(); ++p) {
    pictures += image(clock_picture(sheet.faces[p], words));
    if (p < sheet.diagrams.size()) pictures += image(vector_picture(sheet.diagrams[p], words));
  }
  std::string recordings = "<table>\n";
  for (const SheetSpin& spin : sheet.spins)
    recordings +=
        fmt::format("<tr><td>{}</td><td class=\"hash\">{}</td></tr>\n", escaped(spin_words(spin, words)), spin.sha256);
  recordings += "</table>\n";
  const std::string verdict_class = sheet.verdict ? std::string(verdict_name(*sheet.verdict)) : "unsure";
  const auto notes = notes_of(sheet, words);
  return fmt::format(
             "<!DOCTYPE html>\n<html lang=\"{}\">\n<meta charset=\"utf-8\">\n<title>{}</title>\n<style>{}</style>\n",
             words.language, escaped(fmt::format("{} {}", words.sheet_title, sheet.job)), style) +
         fmt::format("<h1>{}</h1>\n<p>{}</p>\n<p class=\"verdict {}\">{}</p>\n", words.sheet_title, escaped(sheet.job),
                     verdict_class, verdict_words(sheet, words)) +
         facts + (sheet.places.empty() ? "" : table(places_table(sheet, words))) +
         paragraphs(rule_words(sheet, words)) + fmt::format("<h2>{}</h2>\n", words.pieces) +
         (sheet.pieces.empty() ? fmt::format("<p>{}</p>\n", words.no_pieces)
                               : table(pieces_table(sheet, words, units))) +
         pictures + (notes.empty() ? "" : fmt::format("<h2>{}</h2>\n", words.notes) + paragraphs(notes)) +
         fmt::format("<h2>{}</h2>\n", words.recordings) + recordings +
         paragraphs({words.cautions, put_in(words.program, sheet.program)}) + "</html>\n";
}

}  // namespace counterspot
