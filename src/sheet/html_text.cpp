#include "sheet/html_text.hpp"

#include <fmt/format.h>
#include <nettle/base64.h>

#include <cstdint>

#include "files/drawn_mark.hpp"

namespace counterspot {

namespace {

std::string base64(std::string_view bytes) {
  std::string text(BASE64_ENCODE_RAW_LENGTH(bytes.size()), '\0');
  base64_encode_raw(text.data(), bytes.size(), reinterpret_cast<const std::uint8_t*>(bytes.data()));
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

std::string html_head(std::string_view language, std::string_view title) {
  return fmt::format(
      "<!DOCTYPE html>\n{}<html lang=\"{}\">\n<meta charset=\"utf-8\">\n<title>{}</title>\n<style>{}</style>\n",
      mark_in_svg_and_html, language, escaped(title), style);
}

std::string html_image(const Picture& picture) {
  return fmt::format("<img alt=\"{}\" src=\"data:image/svg+xml;base64,{}\">\n", escaped(picture.title),
                     base64(draw(picture, {})));
}

std::string html_table(const std::vector<Row>& rows) {
  std::string text = "<table>\n";
  for (std::size_t r = 0; r < rows.size(); ++r) {
    text += "<tr>";
    for (const std::string& cell : rows[r]) text += fmt::format("<{0}>{1}</{0}>", r == 0 ? "th" : "td", escaped(cell));
    text += "</tr>\n";
  }
  return text + "</table>\n";
}

std::string html_paragraphs(const std::vector<std::string>& sentences) {
  std::string text;
  for (const std::string& sentence : sentences) text += fmt::format("<p>{}</p>\n", escaped(sentence));
  return text;
}

}  // namespace counterspot
