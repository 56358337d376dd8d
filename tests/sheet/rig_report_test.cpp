// The report of a rig's qualification: what was claimed, measured and allowed, item by item, in both languages.
#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>
#include <fstream>

#include "counterspot/sheet/rig_report.hpp"
#include "sheet/overlaps.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

RigFinding finding(RigPlace place, RigVerdict verdict, double measured, double allowed) {
  return {place, verdict, measured, allowed, "as it was said then"};
}

/// A first qualification: sensors and planes are not judged against a record, for there is none.
RigReport first_report() {
  RigReport report;
  report.rig.name = "Marrow Creek, bay 2";
  report.shaft.id = "MASTER-1";
  report.shaft.planes = {{"A", 0.07, 0.039, {}}, {"B", 1.43, 0.039, {}}};
  report.claims.umar_kg_m = 80e-6;
  report.program = "counterspot 0.1.0";
  report.opened_unix_s = 1764162000;
  report.date_unix_s = 1764248400;
  report.due_unix_s = 1795784400;
  report.speed_rad_s = 169.8;
  report.result.passed = true;
  report.result.umar_kg_m = {35.2e-6, 31.0e-6};
  report.result.reduction = 0.971;
  report.result.remount_kg_m = 12.3e-6;
  report.result.adapters_kg_m = {phasor_at(110e-6, 0.3), phasor_at(90e-6, 2.0)};
  report.result.findings = {finding(RigPlace::sensors, RigVerdict::not_judged, 0.0, 0.0),
                            finding(RigPlace::separation, RigVerdict::not_judged, 0.0, 0.0),
                            finding(RigPlace::smallest_residual, RigVerdict::passed, 0.042, 0.12),
                            finding(RigPlace::reduction, RigVerdict::passed, 0.029, 0.05),
                            finding(RigPlace::speed, RigVerdict::passed, 0.04, 0.15),
                            finding(RigPlace::adapters, RigVerdict::passed, 0.275, 1.0)};
  for (std::size_t p : {0U, 1U}) {
    report.result.small_over_mean[p].assign(12, 1.01);
    report.result.reductions[p].assign(11, 0.98);
  }
  for (int i = 0; i < 34; ++i) report.spins.push_back({i + 1, fmt::format("spin {}", i + 1), 169.8, "", ""});
  return report;
}

bool says(const RigReport& report, const Words& words, const std::string& text) {
  for (const Picture& page : rig_report_pages(report, words))
    for (const Shape& shape : page.shapes)
      if (const auto* lettering = std::get_if<Lettering>(&shape.form))
        if (lettering->words.find(text) != std::string::npos) return true;
  return false;
}

}  // namespace

TEST_CASE("a report whose items were not all judged is not headed 'passed'") {
  RigReport report = first_report();
  const std::string html = rig_report_html(report);
  CHECK(html.find("<p class=\"verdict unsure\">4 of 6 passed</p>") != std::string::npos);
  CHECK(html.find("sensors, plane separation: the first qualification of this rig") != std::string::npos);
  for (RigFinding& each : report.result.findings)
    if (each.verdict == RigVerdict::not_judged) each = finding(each.place, RigVerdict::passed, 0.02, 0.1);
  CHECK(rig_report_html(report).find("<p class=\"verdict within\">passed</p>") != std::string::npos);
  report.result.passed = false;
  report.result.findings[2].verdict = RigVerdict::failed;
  CHECK(rig_report_html(report).find("<p class=\"verdict outside\">failed</p>") != std::string::npos);
  CHECK(rig_report_html(report).find("look for a loose sensor, cable or pedestal bolt") != std::string::npos);
}

TEST_CASE("a report has what was claimed, measured and is allowed of each item") {
  const RigReport report = first_report();
  for (const char* said : {"80.0 g·mm", "A 35.2 g·mm, B 31.0 g·mm;", "4.2 %", "spread ≤ 12.0 %", "95.0 %", "97.1 %",
                           "≥ 95.0 %", "≤ 15.0 %", "not judged", "page 1 of 1"}) {
    INFO(said);
    CHECK(says(report, english(), said));
  }
  CHECK_FALSE(says(report, english(), "memory"));
}

TEST_CASE("draw a report, to look at it", "[.][keep]") {
  const char* const folder = std::getenv("COUNTERSPOT_LOOK");
  if (folder == nullptr) return;
  DrawingOptions options;
  options.format = PictureFormat::pdf;
  for (const Words* words : {&english(), &german()})
    std::ofstream(std::filesystem::path(folder) / fmt::format("rig-report-{}.pdf", words->language), std::ios::binary)
        << draw(rig_report_pages(first_report(), *words), options);
}

TEST_CASE("a report speaks German") {
  const RigReport report = first_report();
  for (const char* said : {"EIGNUNGSPRÜFUNG", "4 von 6 bestanden", "kleinste erreichbare", "35,2 g·mm",
                           "nicht bewertet", "1621 min⁻¹", "Seite 1 von 1"}) {
    INFO(said);
    CHECK(says(report, german(), said));
  }
}

TEST_CASE("twenty long warnings of a report are printed under one another, on as many pages as they take") {
  RigReport report = first_report();
  for (int i = 0; i < 20; ++i)
    report.said.push_back({fmt::format("sensor A: spin {}: ", i) + std::string(300, i % 2 == 0 ? 'x' : 'y'), "", "A"});
  report.rig.name = "Prüfstand der Auswuchterei in der großen Halle am Bach, zweiter von links";
  for (const Words* words : {&english(), &german()}) {
    const std::vector<std::string> faults = overlaps_of(rig_report_pages(report, *words));
    CAPTURE(faults);
    CHECK(faults.empty());
    CHECK(rig_report_pages(report, *words).size() >= 2);
  }
}
