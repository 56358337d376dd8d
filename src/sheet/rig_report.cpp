#include "counterspot/sheet/rig_report.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "counterspot/drawing/drawing_rig.hpp"
#include "counterspot/log/log.hpp"
#include "counterspot/units/error.hpp"
#include "report/rig_step_words.hpp"
#include "sheet/framed_page.hpp"
#include "sheet/html_text.hpp"
#include "sheet/json.hpp"
#include "sheet/rig_text.hpp"
#include "sheet/text.hpp"

namespace counterspot {

namespace {

constexpr double line_height_mm = 2.5;
constexpr double letters_per_mm = 1.0 / (0.72 * line_height_mm);

void draw_words(FramedPage& page, const std::string& text, double x, double size, bool heavy = false,
                Role role = Role::text) {
  page.sketch.text(role, {{x, page.y}, text, size, Anchor::left, heavy, page.right - x});
}

/// In as many lines as it takes.
void draw_sentence(FramedPage& page, const std::string& text, double x) {
  for (const std::string& line : wrapped(text, static_cast<std::size_t>((page.right - x) * letters_per_mm))) {
    draw_words(page, line, x, line_height_mm, false, Role::quiet);
    page.y += 1.45 * line_height_mm;
  }
}

/// Heavy and whole, or hatched as what is forbidden: told from across the room.
void draw_judgement(FramedPage& page, const RigReport& report) {
  const double left = page.right - 62.0;
  const bool passed = report.result.passed;
  const auto box = [&](double in) {
    return std::vector<Point>{
        {left + in, 13.0 + in}, {page.right - in, 13.0 + in}, {page.right - in, 29.0 - in}, {left + in, 29.0 - in}};
  };
  page.sketch.polygon(passed ? Role::latest : Role::forbidden, box(0.0), passed ? Fill::none : Fill::hatch,
                      "verdict frame");
  if (!passed) page.sketch.polygon(Role::forbidden, box(3.0), Fill::paper);
  page.sketch.text(passed ? Role::text : Role::forbidden,
                   {{0.5 * (left + page.right), 24.3}, report_verdict(report), 6.5, Anchor::middle, true, 48.0},
                   "verdict");
}

void draw_report_head(FramedPage& page, const RigReport& report) {
  page.y = 21.0;
  page.sketch.text(Role::text, {{page.left, page.y}, report_title, 7.0, Anchor::left, true, 100.0});
  page.y = 28.0;
  page.sketch.text(Role::text, {{page.left, page.y}, report.rig.name, 4.5, Anchor::left, false, 100.0});
  draw_judgement(page, report);
  page.y = 38.0;
  for (const auto& [name, value] : report_facts(report)) {
    draw_words(page, name, page.left, line_height_mm, false, Role::quiet);
    draw_words(page, value, page.left + 46.0, 3.0);
    page.y += 4.6;
  }
  page.y += 2.0;
}

void draw_findings(FramedPage& page, const RigReport& report) {
  for (const RigFinding& finding : report.result.findings) {
    page.sketch.line(Role::quiet, {page.left, page.y - 3.6}, {page.right, page.y - 3.6});
    draw_words(page, std::string(rig_verdict_name(finding.verdict)), page.left, 3.0,
               finding.verdict == RigVerdict::failed);
    draw_words(page, std::string(rig_place_name(finding.place)), page.left + 24.0, 3.0, true);
    page.y += 4.2;
    draw_sentence(page, finding.words, page.left + 24.0);
    page.y += 2.4;
  }
}

void draw_report_foot(FramedPage& page, const RigReport& report) {
  const double top = page.bottom - 24.0;
  const double third = (page.right - page.left + 2.0 * FramedPage::inset_mm) / 3.0;
  const double left = page.left - FramedPage::inset_mm;
  page.sketch.line(Role::on_shaft, {left, top}, {page.right + FramedPage::inset_mm, top});
  double x = left;
  for (const char* who : {"qualified by", "inspected by"}) {
    draw_signature(page, x, x + third, top, who, "name, date, signature");
    x += third;
  }
  page.sketch.text(Role::text, {{x + 2.0, top + 6.0}, report_title, 3.5, Anchor::left, true, third - 4.0});
  page.sketch.text(Role::text, {{x + 2.0, top + 13.0}, report.rig.name, 3.5, Anchor::left, false, third - 4.0});
  page.sketch.text(
      Role::quiet,
      {{x + 2.0, page.bottom - 2.0}, "written by " + report.program, 2.0, Anchor::left, false, third - 4.0});
}

Picture picture_of(const RigReport& report) {
  std::vector<std::string> planes;
  for (const Plane& plane : report.shaft.planes) planes.push_back(plane.name);
  return qualification_picture(report.result, report.claims, planes);
}

/// In the room that is left, as large as it goes.
void draw_report_picture(FramedPage& page, const RigReport& report, double room_mm) {
  const Picture picture = picture_of(report);
  const double width = page.right - page.left;
  const double scale = std::min(width / picture.width_mm, room_mm / picture.height_mm);
  put(page.sketch.picture(), picture, {page.left + 0.5 * (width - scale * picture.width_mm), page.y}, scale);
  page.y += scale * picture.height_mm;
}

}  // namespace

RigReport rig_report_of(const RigWork& work) {
  const RigWorkState state = state_of(work);
  const auto* result =
      state.closing ? std::get_if<Qualification>(&std::get<RigClosed>(state.closing->what).result) : nullptr;
  if (result == nullptr) {
    throw Error(Trouble::request, "not_judged",
                fmt::format("{} of {} spins of this qualification are made, and it is not judged", state.next,
                            state.plan.size()),
                "make the spins that 'rig next' asks for");
  }
  RigReport report;
  report.rig = work.rig();
  report.shaft = work.shaft();
  report.claims = *report.rig.claims;
  report.program = state.closing->program;
  report.opened_unix_s = work.opened_unix_s;
  report.date_unix_s = state.closing->at_unix_s;
  report.due_unix_s = report.date_unix_s + static_cast<std::int64_t>(report.claims.every_s);
  report.result = *result;
  for (std::size_t k = 0; k < state.spins.size(); ++k) {
    const Spun& spun = std::get<RigSpun>(state.spins[k]->what).spun;
    report.spins.push_back({static_cast<int>(k) + 1, words_of(state.plan[k], report.shaft), spun.speed_rad_s,
                            spun.recording.substr(spun.recording.find_last_of('/') + 1), spun.sha256});
    for (const SaidWarning& warning : spun.warnings) add_report_note(report, warning.message);
  }
  report.speed_rad_s = report.spins.front().speed_rad_s.value_or(0.0);
  for (const RigEvent& event : work.events)
    if (const auto* back = std::get_if<TakenBack>(&event.what))
      add_report_note(report, "a spin was taken back: " + back->reason);
  return report;
}

std::string rig_report_file(const RigReport& report) {
  std::string name = report.rig.name;
  std::replace_if(
      name.begin(), name.end(), [](char letter) { return letter == ' ' || letter == '/' || letter == ','; }, '-');
  return fmt::format("{}-{}.pdf", name, utc_day(report.date_unix_s));
}

Picture rig_report_page(const RigReport& report, Paper paper) {
  FramedPage page = framed_page(report_title + (" " + report.rig.name), paper);
  draw_report_head(page, report);
  draw_findings(page, report);
  const std::size_t most_notes = 6;
  const std::size_t shown = std::min(report.notes.size(), most_notes);
  const double below = 24.0 + 14.0 + 4.0 * static_cast<double>(shown);
  draw_report_picture(page, report, page.bottom - page.y - below);
  page.y += 4.0;
  draw_sentence(page, recordings_sentence(report), page.left);
  for (std::size_t i = 0; i < shown; ++i) draw_words(page, "· " + report.notes[i], page.left, 2.0);
  draw_report_foot(page, report);
  return std::move(page.sketch.picture());
}

std::string rig_report_html(const RigReport& report) {
  std::string facts = "<table>\n";
  for (const auto& [name, value] : report_facts(report))
    facts += fmt::format("<tr><th>{}</th><td>{}</td></tr>\n", escaped(name), escaped(value));
  std::vector<Row> findings{{"place", "judgement", "what was found"}};
  for (const RigFinding& finding : report.result.findings) {
    findings.push_back(
        {std::string(rig_place_name(finding.place)), std::string(rig_verdict_name(finding.verdict)), finding.words});
  }
  std::vector<Row> spins{{"", "spin", "recording", "SHA-256"}};
  for (const SheetSpin& spin : report.spins)
    spins.push_back({std::to_string(spin.number), spin.label, spin.file.empty() ? "typed in" : spin.file, spin.sha256});
  return html_head("en", report_title + (" " + report.rig.name)) +
         fmt::format("<h1>{}</h1>\n<p>{}</p>\n<p class=\"verdict {}\">{}</p>\n", report_title, escaped(report.rig.name),
                     report.result.passed ? "within" : "outside", report_verdict(report)) +
         facts + "</table>\n" + html_table(findings) + html_image(picture_of(report)) + html_paragraphs(report.notes) +
         html_table(spins) + html_paragraphs({"written by " + report.program}) + "</html>\n";
}

std::string rig_report_json(const RigReport& report) {
  return one_line({{"rig", report.rig.name},
                   {"reference_shaft", report.shaft.id},
                   {"program", report.program},
                   {"opened", utc_text(report.opened_unix_s)},
                   {"date", utc_text(report.date_unix_s)},
                   {"due", report.result.passed ? Json(utc_text(report.due_unix_s)) : Json(nullptr)},
                   {"speed_rpm", rpm(report.speed_rad_s)},
                   {"passed", report.result.passed},
                   {"findings", json_of(report.result.findings)},
                   {"umar_gmm", {in_g_mm(report.result.umar_kg_m[0]), in_g_mm(report.result.umar_kg_m[1])}},
                   {"claimed_umar_gmm", in_g_mm(report.claims.umar_kg_m)},
                   {"reduction_percent", 100.0 * report.result.reduction},
                   {"remount_gmm", in_g_mm(report.result.remount_kg_m)},
                   {"small_over_mean", report.result.small_over_mean},
                   {"reductions", report.result.reductions},
                   {"spins", spins_json(report.spins)},
                   {"notes", report.notes}});
}

}  // namespace counterspot
