// Sheets as they are kept: every text with its place on its page. What changes there is to be looked at:
// `test_sheet "[keep]"` writes them anew.
#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <cstdlib>
#include <fstream>
#include <regex>

#include "counterspot/sheet/rig_report.hpp"
#include "counterspot/sheet/sheet.hpp"
#include "sheet/story.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

struct KeptSheet {
  std::string name;
  std::vector<Picture> pages;
};

constexpr const char* order =
    "[order]\ncustomer = \"Marrow Creek Irrigation\"\nnumber = \"4500123\"\nserial = \"0417-22\"\n"
    "shop = \"Marrow Creek Shaftworks\"\nbalanced_by = \"K. Osei\"\nfixed_by = \"welded\"\n"
    "limits_by = \"drawing 4711\"\n";

Sheet usual_sheet(const std::string& more = "", UnitSystem units = UnitSystem::metric) {
  Story story("PS-1042", 2, 2e-5, more);
  story.usual();
  Sheet sheet = sheet_of(story.job, units);
  sheet.seal = std::string(64, 'a');  // each log has its own
  return sheet;
}

/// Pieces at every so many degrees, alternately on both planes.
void add_pieces(Sheet& sheet, int count) {
  sheet.pieces.clear();
  for (ClockFace& face : sheet.faces) face.pieces.clear();
  for (int i = 0; i < count; ++i) {
    const auto plane = static_cast<std::size_t>(i % 2);
    const FittedWeight weight{i % 2, 0.008 + 1e-4 * i, 0.039, radians(360.0 * i / count)};
    sheet.pieces.push_back(
        {i + 1, sheet.faces[plane].plane, weight, spot_at(weight.angle_rad, sheet.rig.rotation, 0.0762)});
    sheet.faces[plane].pieces.push_back({PieceState::on_shaft, weight.mass_kg, weight.angle_rad, false, i + 1});
  }
}

KeptSheet in_doubt() {
  Sheet sheet = usual_sheet(order);
  sheet.verdict = Verdict::unsure;
  sheet.held_back.push_back({"loose_cable", "sensor B: the signal went away", "fix the cable", {"as found"}, {"B"}});
  return {"in-doubt-two-pages-de", [&] {
            add_pieces(sheet, 28);
            return sheet_pages(sheet, german());
          }()};
}

KeptSheet typed_limits() {
  Sheet sheet = usual_sheet(order, UnitSystem::inch);
  sheet.limits.grade.clear();
  sheet.limits.total_kg_m.reset();
  return {"typed-limits-inch", sheet_pages(sheet, english(), UnitSystem::inch, Paper::letter)};
}

KeptSheet refused(const std::string& name, const Words& words, UnitSystem units) {
  Sheet sheet = usual_sheet("", units);
  sheet.verdict = Verdict::outside;
  sheet.places[0].held.residual_kg_m = 2.0 * sheet.places[0].held.limit_kg_m;
  sheet.places[0].held.verdict = Verdict::outside;
  return {name, sheet_pages(sheet, words, units)};
}

KeptSheet three_pages() {
  Sheet sheet = usual_sheet(order);
  add_pieces(sheet, 60);
  for (int i = 5; i <= 40; ++i) sheet.spins.push_back({i, fmt::format("again {}", i), 169.8, "", ""});
  for (int i = 0; i < 25; ++i)
    sheet.notes.push_back(
        {fmt::format("taken back, the {}th: the mass sat at the wrong hour of the clock", i), "", ""});
  return {"three-pages", sheet_pages(sheet)};
}

std::vector<KeptSheet> kept_sheets() {
  return {{"one-page", sheet_pages(usual_sheet(order))},
          in_doubt(),
          typed_limits(),
          refused("refused", english(), UnitSystem::metric),
          refused("refused-inch-de", german(), UnitSystem::inch),
          three_pages()};
}

/// A line a text: where it stands, in mm, how high it is, and what it says.
std::string texts_of(const std::vector<Picture>& pages) {
  std::string text;
  for (std::size_t p = 0; p < pages.size(); ++p) {
    text += fmt::format("page {}, {:.1f} x {:.1f} mm\n", p + 1, pages[p].width_mm, pages[p].height_mm);
    for (const Shape& shape : pages[p].shapes) {
      if (const auto* words = std::get_if<Lettering>(&shape.form))
        text += fmt::format("{:6.1f} {:6.1f} {:4.1f}  {}\n", words->at.x, words->at.y, words->height_mm, words->words);
    }
  }
  return text;
}

std::filesystem::path kept_file(const std::string& name) {
  return source_file("tests/sheet/kept/" + name + ".txt");
}

}  // namespace

TEST_CASE("sheets of one, two and three pages are as they are kept") {
  const std::vector<std::size_t> count{1, 2, 1, 1, 1, 3};
  const std::vector<KeptSheet> sheets = kept_sheets();
  for (std::size_t i = 0; i < sheets.size(); ++i) {
    INFO(sheets[i].name);
    CHECK(sheets[i].pages.size() == count[i]);
    CHECK(texts_of(sheets[i].pages) == read_file(kept_file(sheets[i].name)));
  }
}

TEST_CASE("keep the sheets anew", "[.][keep]") {
  for (const KeptSheet& sheet : kept_sheets()) {
    std::ofstream(kept_file(sheet.name)) << texts_of(sheet.pages);
    DrawingOptions options;
    options.format = PictureFormat::pdf;
    if (const char* const folder = std::getenv("COUNTERSPOT_LOOK"))  // to look at them
      std::ofstream(std::filesystem::path(folder) / (sheet.name + ".pdf"), std::ios::binary)
          << draw(sheet.pages, options);
  }
}

TEST_CASE("a PDF says what it is of, a PNG how large it is, an SVG what can be read aloud") {
  Story story("PS-1042", 2);
  story.usual();
  story.text_of_sheet();
  const std::string info = story.out_of("pdfinfo sheet.pdf");
  CHECK(info.find("BALANCE SHEET PS-1042/1") != std::string::npos);
  CHECK(info.find("shaft PS-1042, verdict: within") != std::string::npos);
  REQUIRE(story.sheet("sheet.svg").exit_code == 0);
  const std::string svg = read_file(story.folder / "sheet.svg");
  CHECK(svg.find("<title>BALANCE SHEET PS-1042/1</title>") != std::string::npos);
  CHECK(svg.find("<desc>shaft PS-1042, verdict: within</desc>") != std::string::npos);
  REQUIRE(std::system(fmt::format("cd '{}' && python3 -c \"import xml.dom.minidom as m; m.parse('sheet.svg')\"",
                                  story.folder.path().string())
                          .c_str()) == 0);
  // PNG (ISO/IEC 15948) 11.3.5.3: 8 pixels a millimetre are 8000 a metre, 0x1f40.
  REQUIRE(story.sheet("sheet.png").exit_code == 0);
  const std::string png = read_file(story.folder / "sheet.png");
  const auto chunk = png.find("pHYs");
  REQUIRE(chunk != std::string::npos);
  CHECK(png.substr(chunk + 4, 9) == std::string("\0\0\x1f\x40\0\0\x1f\x40\x01", 9));
}

TEST_CASE("what takes several pages is one PDF of as many, and one tall picture") {
  Sheet sheet = usual_sheet();
  add_pieces(sheet, 28);
  const TemporaryFolder folder;
  for (const auto& [name, format] : {std::pair{"sheet.pdf", PictureFormat::pdf}, {"sheet.svg", PictureFormat::svg}})
    std::ofstream(folder / name, std::ios::binary) << sheet_file(sheet, format);
  REQUIRE(std::system(fmt::format("cd '{}' && pdfinfo sheet.pdf > said", folder.path().string()).c_str()) == 0);
  CHECK(std::regex_search(read_file(folder / "said"), std::regex(R"(Pages:\s+2\n)")));
  // Two A4 of 841.89 points.
  CHECK(read_file(folder / "sheet.svg").find("height=\"1683.779528pt\"") != std::string::npos);
}
