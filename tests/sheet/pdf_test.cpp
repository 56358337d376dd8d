// A sheet as PDF against ISO 19005-2 (PDF/A-2, level U), as far as programs of others tell it: qpdf, Poppler, Little
// CMS. What they do not tell stands in src/manual/inspector.md.
#include <fmt/format.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <regex>
#include <sstream>

#include "counterspot/sheet/sheet.hpp"
#include "sheet/story.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

/// A shaft that is within its limits.
struct Told : Story {
  explicit Told(const std::string& shaft = "PS-1042") : Story(shaft, 2) { usual(); }
};

bool has(const std::string& text, const std::string& words) {
  return text.find(words) != std::string::npos;
}

/// The number of the object that is said to be it.
std::string number_of(const std::string& text, const std::string& key) {
  std::smatch found;
  REQUIRE(std::regex_search(text, found, std::regex(key + R"re(": "?(\d+) 0 R)re")));
  return found[1];
}

}  // namespace

TEST_CASE("a sheet is sound as a PDF, and has what a PDF for the archive must have") {
  const Told story;
  REQUIRE(story.sheet("sheet.pdf").exit_code == 0);
  CHECK(has(story.out_of("qpdf --check sheet.pdf"), "No syntax or stream encoding errors"));
  const std::string meta = story.out_of("pdfinfo -meta sheet.pdf");
  CHECK(has(meta, "<pdfaid:part>2</pdfaid:part>"));  // ISO 19005-2, 6.6.4
  CHECK(has(meta, "<pdfaid:conformance>U</pdfaid:conformance>"));
  CHECK(has(meta, ">BALANCE SHEET PS-1042/1<"));
  CHECK(has(meta, "<xmp:CreateDate>2025-11-26T13:08:00Z</xmp:CreateDate>"));  // as the information dictionary has it
  const std::string json = story.out_of("qpdf --json=1 sheet.pdf");
  CHECK(std::regex_search(json, std::regex(R"re("/ID": \[)re")));  // 6.1.3
  CHECK(has(json, R"("/S": "/GTS_PDFA1")"));                       // 6.2.3
  CHECK(has(json, R"("/Lang": "en")"));
  // Forbidden: 6.1.2 encryption, 6.1.7.2 LZW, 6.2.8 interpolated pictures, 6.5 actions, 6.8 embedded files, 6.2.4.3
  // colours of a device that is not the output's.
  for (const char* forbidden :
       {R"("/Encrypt":)", R"("/LZWDecode")", R"("/Interpolate": true)", R"("/OpenAction":)", R"("/AA":)",
        R"("/JavaScript")", R"("/EmbeddedFiles":)", R"("/DeviceCMYK")", R"("/TR":)", R"("/HTP":)"}) {
    INFO(forbidden);
    CHECK_FALSE(has(json, forbidden));
  }
  // 6.2.11.3.2: glyphs of a composite TrueType font are numbered as its file has them.
  for (std::size_t at = json.find("/CIDFontType2"); at != std::string::npos; at = json.find("/CIDFontType2", at + 1))
    CHECK(has(json.substr(json.rfind('{', at), at - json.rfind('{', at)), "/CIDToGIDMap"));
}

TEST_CASE("the colours of a sheet are sRGB, as Little CMS reads its profile") {
  const Told story;
  REQUIRE(story.sheet("sheet.pdf").exit_code == 0);
  const std::string object = number_of(story.out_of("qpdf --json=1 sheet.pdf"), "/DestOutputProfile");
  story.out_of(fmt::format("qpdf --show-object={} --raw-stream-data sheet.pdf > p.icc && true", object));
  // From the sheet's profile into Little CMS's own sRGB and back out: the same, within half of one step of 255.
  for (const char* colour : {"0 0 0", "255 255 255", "255 0 0", "0 255 0", "0 0 255", "168 67 0", "16 16 16"}) {
    INFO(colour);
    std::istringstream wanted(colour);
    std::istringstream given(story.out_of(
        fmt::format("sh -c \"echo '{}' | sed 's/ /\\n/g' | transicc -t1 -n -i p.icc -o '*sRGB'\"", colour)));
    for (int i = 0; i < 3; ++i) {
      double want = 0.0;
      double give = -9.0;
      wanted >> want;
      given >> give;
      CHECK(give == Approx(want).margin(0.5));
    }
  }
}

TEST_CASE("a sheet read aloud is a title, tables with rows, and figures with words, in its language") {
  const Told story;
  REQUIRE(story.sheet("sheet.pdf", {"--language", "de"}).exit_code == 0);
  CHECK(std::regex_search(story.out_of("pdfinfo sheet.pdf"), std::regex(R"(Tagged:\s+yes)")));
  const std::string told_tree = story.out_of("pdfinfo -struct-text sheet.pdf");
  const std::size_t title = told_tree.find("\"AUSWUCHTPROTOKOLL\"");
  const std::size_t table = told_tree.find("Table");
  const std::size_t figure = told_tree.find("Figure");
  CHECK(title < table);  // the order in which it is read
  CHECK(table < figure);
  CHECK(figure != std::string::npos);
  for (const char* type : {"H1", "TR", "TH", "TD", "P "}) {
    INFO(type);
    CHECK(has(told_tree, type));
  }
  const std::string json = story.out_of("qpdf --json=1 sheet.pdf");
  std::size_t figures = 0;
  std::size_t with_words = 0;
  for (std::size_t at = json.find("\"/S\": \"/Figure\""); at != std::string::npos;
       at = json.find("\"/S\": \"/Figure\"", at + 1)) {
    ++figures;
    with_words += has(json.substr(json.rfind('{', at), at - json.rfind('{', at)), "\"/Alt\": \"") ? 1 : 0;
  }
  CHECK(figures == 4);  // two faces, two vector diagrams
  CHECK(with_words == figures);
  CHECK(has(json, R"("/Lang": "de")"));
}

TEST_CASE("all that a sheet says is told to who hears it") {
  const Told story;
  REQUIRE(story.sheet("sheet.pdf").exit_code == 0);
  const Picture page = sheet_pages(sheet_of(story.log, story.job.name)).front();
  for (std::size_t i = 0; i < page.shapes.size(); ++i) {
    const auto* words = std::get_if<Lettering>(&page.shapes[i].form);
    if (words == nullptr) continue;
    INFO(words->words);
    CHECK(std::any_of(page.passages.begin(), page.passages.end(),
                      [&](const Passage& passage) { return passage.from <= i && i < passage.to; }));
  }
}

TEST_CASE("a name in another script, with signs of markup, is in the PDF's metadata as it was written") {
  const Told story("Wéllé <&> 轴");
  const Ran ran = story.sheet("sheet.pdf");
  REQUIRE(ran.exit_code == 0);
  CHECK(has(story.out_of("pdfinfo -meta sheet.pdf"), "W\xC3\xA9ll\xC3\xA9 &lt;&amp;&gt; \xE8\xBD\xB4"));
  CHECK(has(story.out_of("qpdf --check sheet.pdf"), "No syntax or stream encoding errors"));
}
