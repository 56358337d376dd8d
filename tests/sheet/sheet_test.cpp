// The balance sheet against the log it is of, read back as a customer's program would read it.
#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <cstdlib>
#include <nlohmann/json.hpp>
#include <regex>

#include "counterspot/drawing/drawing_job.hpp"
#include "counterspot/guide/guide.hpp"
#include "counterspot/log/log.hpp"
#include "counterspot/sheet/sheet.hpp"
#include "counterspot/tolerance/held_text.hpp"
#include "counterspot/units/error.hpp"
#include "made_up_shop.hpp"
#include "sheet/story.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;
using Json = nlohmann::json;

namespace {

/// Columns stand apart by more or fewer blanks.
std::string with_single_blanks(const std::string& text) {
  return std::regex_replace(text, std::regex("\\s+"), " ");
}

bool says(const std::string& text, const std::string& words) {
  INFO(words << " in\n" << text);
  const bool found = with_single_blanks(text).find(with_single_blanks(words)) != std::string::npos;
  CHECK(found);
  return found;
}

}  // namespace

TEST_CASE("a job's pictures have its verdict only while no weight was changed since") {
  Story story("PS-1042", 2);
  story.usual();
  const PictureOf closed = picture_of(story.job, UnitSystem::inch, "counterspot 0.1.0");
  CHECK(closed.shaft == "PS-1042");
  CHECK(closed.job == "PS-1042/1");
  CHECK(closed.as_of == "2025-11-26");
  CHECK(closed.rig == "bay 2");
  CHECK(rpm(closed.speed_rad_s.value()) == Approx(1622.3));
  CHECK(closed.verdict == Verdict::within);
  Job spun = story.job;
  spun.events.pop_back();  // the close
  CHECK(picture_of(spun, UnitSystem::metric, "").verdict == Verdict::within);
  spun.events.pop_back();  // the last spin, behind the weights that it was made with
  CHECK_FALSE(picture_of(spun, UnitSystem::metric, "").verdict);
}

TEST_CASE("every number of the sheet is the log's, read back from the PDF") {
  Story story("PS-1042", 2);
  story.usual();
  const std::string text = story.text_of_sheet();
  const auto closed = std::get<Closed>(story.job.events.back().what);
  REQUIRE(closed.finding);
  for (const Held& held : closed.finding->held) {
    says(text, measured_text(in_g_mm(held.residual_kg_m), in_g_mm(2.0 * held.u_residual_kg_m), english()));
    says(text, held_text(held, UnitSystem::metric).limit);
  }
  const JobState state = state_of(story.job.events);
  for (const FittedWeight& weight : state.on_shaft) {
    says(text, fmt::format("{:.1f} g", weight.mass_kg * 1e3));
    says(text, clock_position(weight.angle_rad, Rotation::counter_clockwise).text());
    says(text, fmt::format("{:.0f} mm", 1e3 * arc_length(weight.angle_rad, 0.0762).length_m));
    says(text, fmt::format("{:.1f} deg", degrees(weight.angle_rad)));
  }
  for (const StandingSpin& spin : state.spins) {
    says(text, spin.spun.sha256);
    says(text, spin.spun.label);
  }
  for (const char* words :
       {"PS-1042/1", "bay 2", "2025-11-26 13:00 UTC", "1622 rpm", "3200 rpm", "14.60 kg", "76.2 × 2.1 × 1420 mm", "G16",
        "within", "counterspot 0.1.0", "balanced by", "inspected by"})
    says(text, words);
  // What was found first: known to this test, since it made the shaft. 900 g·mm, within what the readings' noise
  // leaves.
  std::smatch found;
  REQUIRE(std::regex_search(text, found, std::regex(R"(PLANE A\s+(\d+) ± \d+)")));
  CHECK(std::stod(found[1]) == Approx(900.0).margin(10.0));
}

TEST_CASE("what was found and what is left stand there with ±, angle and hour") {
  Story story("PS-1042", 2);
  story.usual();
  const Sheet sheet = sheet_of(story.job);
  // Known to this test, since it made the shaft: 900 g·mm at 40 deg and 650 g·mm at 150 deg, undone to 5 %.
  const double made_kg_m[] = {900e-6, 650e-6};
  const double made_deg[] = {40.0, 150.0};
  for (std::size_t p = 0; p < 2; ++p) {
    const SheetPlace& place = sheet.places[p];
    REQUIRE(place.as_found);
    CHECK(std::abs(place.as_found->unbalance_kg_m - made_kg_m[p]) <= coverage_factor * place.as_found->u_kg_m);
    // Not more than the setting of trial weights (1 %, 1 deg) and the noise account for.
    CHECK(place.as_found->u_kg_m < 0.02 * made_kg_m[p]);
    CHECK(degrees(place.as_found->angle_rad.value()) == Approx(made_deg[p]).margin(1.5));
    CHECK(degrees(place.angle_rad.value()) == Approx(made_deg[p]).margin(5.0));
  }
  // 40 deg against a counter-clockwise rotation are 40/30 h after the mark: 1:20.
  says(story.text_of_sheet(), "40.0 deg 1:20");
}

TEST_CASE("the direction of a residual that is not told from nothing is not stated") {
  Story story("PS-1042", 2);
  story.usual();
  Job job = story.job;
  auto& finding = std::get<Closed>(job.events.back().what).finding;
  for (PlaneFinding& plane : finding->planes) plane.residual_kg_m *= 1e-3;
  const Sheet sheet = sheet_of(job);
  for (const SheetPlace& place : sheet.places) CHECK_FALSE(place.angle_rad);
}

TEST_CASE("the sheet is one page, its fonts are embedded, and it is the same bytes each time") {
  Story story("PS-1042", 2);
  story.usual();
  story.text_of_sheet();
  CHECK(std::regex_search(story.out_of("pdfinfo sheet.pdf"), std::regex(R"(Pages:\s+1\n)")));
  CHECK(story.out_of("pdfinfo -isodates sheet.pdf").find("2025-11-26T13:08:00") != std::string::npos);  // of the close
  const std::string fonts = story.out_of("pdffonts sheet.pdf | tail -n +3");
  CHECK_FALSE(fonts.empty());
  CHECK(std::regex_search(fonts,
                          std::regex("osifont.* yes yes yes")));  // embedded, a part of it, with its letters' names
  CHECK_FALSE(std::regex_search(fonts, std::regex(R"(\sno (yes|no) (yes|no)\s)")));
  const std::string first = read_file(story.folder / "sheet.pdf");
  story.text_of_sheet();
  CHECK(read_file(story.folder / "sheet.pdf") == first);
}

TEST_CASE("the sheet speaks German where it is asked to, with the same numbers") {
  Story story("PS-1042", 2);
  story.usual();
  const std::string text = story.text_of_sheet({"--language", "de", "--paper", "letter"});
  for (const char* words : {"AUSWUCHTPROTOKOLL", "Restunwucht", "innerhalb", "14,60 kg", "76,2 × 2,1 × 1420 mm",
                            "in Drehrichtung", "von Ende A gesehen"})
    says(text, words);
  CHECK(text.find("residual") == std::string::npos);
  CHECK(story.sheet("a.pdf", {"--language", "fr"}).exit_code == 2);
}

TEST_CASE("what the program noted is said in the sheet's language, what a person gave in his") {
  Story story("PS-1042", 2);
  for (int code = 0; code <= static_cast<int>(WarningCode::share_bounded); ++code) {
    INFO(warning_code(static_cast<WarningCode>(code)));
    CHECK_FALSE(german().of_warning(warning_code(static_cast<WarningCode>(code))).empty());
  }
  story.spin("as found", true, {{"clipped", "B", "sensor B: 12 samples at the end of the range"}});
  story.job =
      story.log.append(story.job, Closed{{}, {}, "customer took it as it is"}, "counterspot 0.1.0", story.now += 60);
  says(story.text_of_sheet(), "sensor B: 12 samples at the end of the range");
  const std::string text = story.text_of_sheet({"--language", "de"});
  says(text, "Aufnehmer B: Signal am Anschlag des Wandlers");
  says(text, "customer took it as it is");
  CHECK(text.find("at the end of the range") == std::string::npos);
}

TEST_CASE("HTML and JSON say the same as the page") {
  Story story("PS-1042", 2);
  story.usual();
  REQUIRE(story.sheet("sheet.html").exit_code == 0);
  const std::string html = read_file(story.folder / "sheet.html");
  const Ran ran = story.sheet("unused.pdf", {"--json"});
  const Json json = Json::parse(ran.out);
  const auto closed = std::get<Closed>(story.job.events.back().what);
  REQUIRE(json["places"].size() == closed.finding->held.size());
  for (std::size_t i = 0; i < closed.finding->held.size(); ++i) {
    const Held& held = closed.finding->held[i];
    CHECK(json["places"][i]["place"] == held.place.text());
    CHECK(json["places"][i]["residual_gmm"] == in_g_mm(held.residual_kg_m));
    CHECK(json["places"][i]["u_residual_gmm"] == in_g_mm(held.u_residual_kg_m));
    says(html, measured_text(in_g_mm(held.residual_kg_m), in_g_mm(2.0 * held.u_residual_kg_m), english()));
  }
  CHECK(json["verdict"] == "within");
  CHECK(json["pieces"].size() == 2);
  CHECK(json["spins"][3]["sha256"] == state_of(story.job.events).spins[3].spun.sha256);
  says(html, state_of(story.job.events).spins[3].spun.sha256);
}

TEST_CASE("a mode is held on the sheet as a mode, not as a plane, in both languages") {
  Story story("PS-1042", 2);
  story.usual();
  Sheet sheet = sheet_of(story.job);
  sheet.places.push_back({{at_mode(1), 1e-4, 1e-6, 4e-4, Verdict::within}, {}});
  says(sheet_html(sheet), ">mode 1<");
  says(sheet_html(sheet, german()), ">Eigenform 1<");
}

TEST_CASE("a name cannot break out of the HTML page") {
  Story story("<b>&'", 2);
  story.spin("<script>");
  const std::string html = sheet_html(sheet_of(story.job));
  CHECK(html.find("<script>") == std::string::npos);
  CHECK(html.find("&lt;script&gt;") != std::string::npos);
}

TEST_CASE("three planes, forty spins, typed readings and long names: all is said, on as many pages as it takes") {
  const std::string name =
      "Irrigation pump shaft of Marrow Creek Shaftworks, long model with flanges, for the west field";
  Story story(name, 3, 0.0);
  story.usual();
  const std::string text = story.text_of_sheet();
  says(text, "Irrigation pump shaft of Marrow Creek");
  says(text, "PLANE M");
  says(text, "uncertainty not known");

  Story many("PS-7", 2);
  many.spin("as found");
  many.fit({{0, 0.015, 0.039, 0.0}});
  many.spin("trial");
  many.fit({{0, 0.015, 0.039, 0.0}, {1, 0.010, 0.039, radians(200.0)}});
  for (int i = 2; i < 40; ++i) many.spin("again " + std::to_string(i), i % 2 == 0);
  const std::string all = many.text_of_sheet();
  says(all, "40  again 39");
  says(all, "typed in");
  says(all, state_of(many.job.events).spins[38].spun.sha256.substr(0, 16));
  says(all, "not closed");
  says(all, "page 1 of 2");
  says(all, "page 2 of 2");
  CHECK(std::regex_search(many.out_of("pdfinfo sheet.pdf"), std::regex(R"(Pages:\s+2\n)")));
}

TEST_CASE("a job without a final residual says so instead of a verdict") {
  Story story("PS-9", 2);
  story.spin("as found");
  const std::string text = story.text_of_sheet();
  says(text, "no final residual");
  CHECK(text.find("within only if") != std::string::npos);
  CHECK(sheet_of(story.job).places.empty());
}

TEST_CASE("the sheet of an open job shows what to fit with the trial weights off, and beside it with them left on") {
  Story story("PS-1042", 2);
  story.spin("as found");
  story.fit({{0, 0.015, 0.039, 0.0}});
  story.spin("trial at A");
  story.fit({{1, 0.015, 0.039, 0.0}});
  story.spin("trial at B");
  const Json json = Json::parse(story.sheet("unused.pdf", {"--json"}).out);
  CHECK(json["trial_weights_on"] == true);
  // Pencil: 900 g·mm at 40 deg and 650 g·mm at 150 deg are undone by 23.08 g at 220 deg and 16.67 g at 330 deg on 39
  // mm; on top of 15 g at 0 deg on B by 16.67 g at 330 deg less those 15 g.
  const Json& bare = json["to_fit_bare"];
  REQUIRE(bare.size() == 2);
  CHECK(bare[0]["mass_g"].get<double>() == Approx(23.077).epsilon(0.01));
  CHECK(bare[0]["angle_deg"].get<double>() == Approx(220.0).margin(1.0));
  CHECK(bare[1]["mass_g"].get<double>() == Approx(16.667).epsilon(0.01));
  CHECK(bare[1]["angle_deg"].get<double>() == Approx(330.0).margin(1.0));
  CHECK(json["to_fit"][1]["mass_g"].get<double>() == Approx(8.353).epsilon(0.02));
  const std::string text = story.text_of_sheet();
  CHECK(text.find("trial weights taken off") < text.find("trial weights left on"));
  says(text, "To fit next, the trial weights taken off: A 23.1 g");
  says(story.text_of_sheet({"--language", "de"}), "Testgewichte abgenommen: A 23,1 g");
  story.fit({{0, 23.08e-3, 0.039, radians(220.0)}, {1, 16.67e-3, 0.039, radians(330.0)}});
  story.spin("corrected");
  CHECK(story.text_of_sheet().find("To fit next") == std::string::npos);
}

TEST_CASE("pieces on the faces carry the numbers of their rows, at their hours") {
  Story story("PS-1042", 2);
  story.usual();
  const Sheet sheet = sheet_of(story.job);
  REQUIRE(sheet.pieces.size() == 2);
  for (std::size_t p = 0; p < sheet.faces.size(); ++p) {
    REQUIRE(sheet.faces[p].pieces.size() == 1);
    CHECK(sheet.faces[p].pieces[0].number == sheet.pieces[p].number);
    CHECK(sheet.faces[p].pieces[0].angle_rad == sheet.pieces[p].weight.angle_rad);
  }
  // The last vector of each diagram is the residual that the log keeps.
  const auto closed = std::get<Closed>(story.job.events.back().what);
  for (std::size_t p = 0; p < sheet.diagrams.size(); ++p)
    CHECK(sheet.diagrams[p].spins.back().unbalance_kg_m == closed.finding->planes[p].residual_kg_m);
}

TEST_CASE("nothing on the page lies outside of its frame") {
  Story story("PS-1042", 2);
  story.usual();
  for (const Paper paper : {Paper::a4, Paper::letter}) {
    const Picture page = sheet_pages(sheet_of(story.job), english(), UnitSystem::metric, paper).front();
    for (const Shape& shape : page.shapes) {
      const auto inside = [&](Point p) {
        return p.x >= 20.0 && p.x <= page.width_mm - 10.0 && p.y >= 10.0 && p.y <= page.height_mm - 10.0;
      };
      if (const auto* path = std::get_if<Path>(&shape.form))
        for (const Point& point : path->points) CHECK(inside(point));
      if (const auto* words = std::get_if<Lettering>(&shape.form)) CHECK(inside(words->at));
    }
  }
}

TEST_CASE("a wrong ending and a job that is not there are refused") {
  Story story("PS-1042", 2);
  const Ran ran = story.sheet("sheet.doc");
  CHECK(ran.exit_code == 2);
  CHECK(ran.err.find(".pdf, .svg, .png or .html") != std::string::npos);
  CHECK(run_program({"sheet", "PS-1/9", "--log", (story.folder / "shop.db").string()}).exit_code == 2);
}

TEST_CASE("a sheet says first what holds its verdict back, in both languages") {
  Story story("PS-3", 2);
  story.spin("as found", true, {{"loose_cable", "B", "sensor B: the signal went away"}});
  for (int p = 0; p < 2; ++p) {
    story.fit({{p, 0.015, 0.039, 0.0}});
    story.spin("trial " + std::to_string(p + 1));
  }
  std::vector<FittedWeight> pieces;
  for (int p = 0; p < 2; ++p) {
    const Phasor wanted = -story.unbalance[static_cast<std::size_t>(p)] / 0.039;
    pieces.push_back({p, std::abs(wanted), 0.039, wrap_positive(std::arg(wanted))});
  }
  story.fit(pieces);
  story.spin("corrected");
  story.close();
  const Sheet sheet = sheet_of(story.job, UnitSystem::metric);
  CHECK(sheet.verdict == Verdict::unsure);
  REQUIRE(sheet.held_back.size() == 1);
  const Json json = Json::parse(sheet_json(sheet));
  CHECK(json["held_back"][0]["code"] == "loose_cable");
  CHECK(json["held_back"][0]["spins"][0] == "as found");
  const std::string html = sheet_html(sheet, english(), UnitSystem::metric);
  CHECK(html.find("in doubt: sensor B: the signal went away") != std::string::npos);
  CHECK(html.find("in doubt") < html.find(english().verdict_by));
  CHECK(sheet_html(sheet, german(), UnitSystem::metric).find("fraglich: ") != std::string::npos);
}

TEST_CASE("a sheet says that the shaft was corrected from what the rig taught, and by how many shafts, where it was") {
  const TemporaryFolder folder;
  Log log = Log::open((folder / "log.db").string(), true);
  MadeUpShop shop;
  for (int i = 0; i < 9; ++i) shop.spun_job(log, i, 3, opened + 86400 * i);
  Job job = shop.corrected_job(log, 9, opened + 86400 * 9);
  REQUIRE(sheet_of(job).places.size() >= 2);
  const auto run = [&](std::vector<std::string> more) {
    more.insert(more.begin(), {"sheet", job.name, "--log", "log.db", "--out"});
    return run_program(more, "/dev/null", folder.path());
  };
  REQUIRE(run({"en.html"}).exit_code == 0);
  REQUIRE(run({"de.html", "--language", "de"}).exit_code == 0);
  REQUIRE(run({"sheet.pdf"}).exit_code == 0);
  says(read_file(folder / "en.html"), "corrected from what the rig taught (earlier shafts: 9)");
  says(read_file(folder / "de.html"), "korrigiert nach dem, was die Auswuchtbank gelehrt hat (frühere Wellen: 9)");
  REQUIRE(std::system(("cd '" + folder.path().string() + "' && pdftotext -layout sheet.pdf said").c_str()) == 0);
  says(read_file(folder / "said"), "corrected from what the rig taught (earlier shafts: 9)");
  const Json json = Json::parse(run({"unused.pdf", "--json"}).out);
  CHECK(json["corrected_from_what_rig_taught"] == true);
  CHECK(json["shafts_that_taught_rig"] == 9);

  SECTION("of them from another log") {
    std::get<Spun>(job.events[0].what).finding->brought_in = 4;
    says(sheet_html(sheet_of(job)), "(earlier shafts: 9, of them from another log: 4)");
    says(sheet_html(sheet_of(job), german()), "(frühere Wellen: 9, davon aus einem anderen Logbuch: 4)");
  }
  SECTION("not where the weights were fitted on the strength of other coefficients") {
    // Only the finding before the fit counts, not the one that verifies.
    std::get<Spun>(job.events[0].what).finding->rig_taught_by = 0;
    CHECK(sheet_html(sheet_of(job)).find("the rig taught") == std::string::npos);
    CHECK(Json::parse(sheet_json(sheet_of(job)))["corrected_from_what_rig_taught"] == false);
  }
  SECTION("not where no weight was fitted") {
    job.events.resize(1);
    CHECK(sheet_html(sheet_of(job)).find("the rig taught") == std::string::npos);
  }
  SECTION("'job show' and 'job next' say it too") {
    const std::string shown =
        run_program({"job", "show", "--job", job.name, "--log", "log.db"}, "/dev/null", folder.path()).out;
    says(shown, "with what the rig taught (earlier shafts: 9)");
  }
}

TEST_CASE("a shaft with trial spins of its own on a rig that has taught nothing is not said to be corrected from it") {
  Story story("PS-1042", 2);
  story.usual();
  const Json json = Json::parse(story.sheet("unused.pdf", {"--json"}).out);
  CHECK(json["corrected_from_what_rig_taught"] == false);
  CHECK(json["shafts_that_taught_rig"] == 0);
  CHECK(sheet_html(sheet_of(story.job)).find("the rig taught") == std::string::npos);
}
