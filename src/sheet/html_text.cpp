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

/// On a screen it is as wide as it may be read, on a narrow one each row a block of its own; printed it takes one A4.
const char* const style = R"(
body{max-width:62em;margin:1.5em auto;padding:0 1em;font:17px/1.35 osifont,sans-serif;background:#fff;color:#101010}
h1,h2,p{margin:.3em 0}h1{font-size:1.6em}h2{font-size:1em}
.verdict{display:inline-block;border:4px solid;padding:.1em 1em;font-size:1.7em}
.outside{border-style:dashed;color:#a84300}.unsure{border-style:dotted}
table{border-collapse:collapse;width:100%;margin:.5em 0}
th,td{text-align:left;vertical-align:top;padding:.15em .6em .15em 0;border-bottom:1px solid #c4c4c4}
th,dt{font-weight:normal;color:#555}td,dd,p{overflow-wrap:anywhere}
dl{columns:2;column-gap:2em;margin:.5em 0}
dl div{display:flex;break-inside:avoid;border-bottom:1px solid #c4c4c4;min-height:1.5em}
dt{flex:0 0 38%;padding-right:.6em}dd{flex:1;margin:0}
.pictures{display:flex;flex-wrap:wrap}.pictures img{flex:1 1 14em;min-width:0;max-width:50%;object-fit:contain}
.hash{font-size:.8em}
.sign{display:flex;flex-wrap:wrap;gap:2em;margin-top:3em}
.sign div{flex:1 1 14em;border-top:1px solid;color:#555;break-inside:avoid}
@media screen and (max-width:44em){
 dl{columns:1}.pictures img{max-width:100%;flex-basis:100%}
 table.named tr:first-child{display:none}table.named td{display:flex}
 table.named td::before{content:attr(data-name);color:#555;flex:0 0 42%}
 table.named tr{display:block;border-bottom:2px solid #555;margin-bottom:.4em}
}
@media print{
 @page{size:A4;margin:9mm 10mm 9mm 20mm}
 body{max-width:none;margin:0;padding:0;font-size:8.5px}
 h1{font-size:18px}.verdict{font-size:15px}.pictures img{flex:1 1 0;max-height:48mm}
 .sign{margin-top:14mm}dl,table{margin:.3em 0}
}
)";

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
      "<!DOCTYPE html>\n{}<html lang=\"{}\">\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" "
      "content=\"width=device-width,initial-scale=1\">\n<title>{}</title>\n<style>{}</style>\n",
      mark_in_svg_and_html, language, escaped(title), style);
}

std::string html_title(std::string_view what, std::string_view of, std::string_view verdict, std::string_view look) {
  return fmt::format("<h1>{}</h1>\n<p>{}</p>\n<p class=\"verdict {}\">{}</p>\n", escaped(what), escaped(of), look,
                     escaped(verdict));
}

std::string html_facts(const std::vector<Fact>& facts) {
  std::string text = "<dl>\n";
  for (const auto& [name, value] : facts)
    text += fmt::format("<div><dt>{}</dt><dd>{}</dd></div>\n", escaped(name), escaped(value));
  return text + "</dl>\n";
}

std::string html_pictures(const std::vector<Picture>& pictures) {
  std::string text = "<div class=\"pictures\">\n";
  for (const Picture& picture : pictures) {
    text += fmt::format("<img alt=\"{}\" src=\"data:image/svg+xml;base64,{}\">\n",
                        escaped(picture.description.empty() ? picture.title : picture.description),
                        base64(draw(picture, {})));
  }
  return text + "</div>\n";
}

std::string html_table(const std::vector<Row>& rows) {
  std::string text = "<table class=\"named\">\n";
  for (std::size_t r = 0; r < rows.size(); ++r) {
    text += "<tr>";
    for (std::size_t c = 0; c < rows[r].size(); ++c) {
      text += r == 0 ? fmt::format("<th>{}</th>", escaped(rows[r][c]))
                     : fmt::format("<td data-name=\"{}\">{}</td>", escaped(rows.front()[c]), escaped(rows[r][c]));
    }
    text += "</tr>\n";
  }
  return text + "</table>\n";
}

std::string html_paragraphs(const std::vector<std::string>& sentences) {
  std::string text;
  for (const std::string& sentence : sentences) text += fmt::format("<p>{}</p>\n", escaped(sentence));
  return text;
}

std::string html_signatures(const std::vector<std::string>& who, std::string_view date_and_signature) {
  std::string text = "<div class=\"sign\">\n";
  for (const std::string& each : who)
    text += fmt::format("<div>{}: {}</div>\n", escaped(each), escaped(date_and_signature));
  return text + "</div>\n";
}

}  // namespace counterspot
