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

constexpr double report_foot_mm = 24.0;
constexpr double report_letters_mm = 2.5;
constexpr double note_letters_mm = 2.0;

std::string titled(const RigReport& report, const Words& words) {
  return fmt::format("{} {}", words.report_title, report.rig.name);
}

Judged judged(const RigReport& report) {
  if (!report.result.passed) return Judged::badly;
  return all_judged(report) ? Judged::well : Judged::neither;
}

void draw_report_head(FramedPage& page, const RigReport& report, const Words& words) {
  page.sketch.text(Passage::Kind::title, Role::text,
                   {{page.left, page.top + 11.0}, words.report_title, 7.0, Anchor::left, true, 106.0});
  draw_whole(Passage::Kind::paragraph, page.sketch, {page.left, page.top + 18.0}, report.rig.name, page.width() - 68.0,
             8.0, 4.5);
  draw_judged(page, judged(report), report_verdict(report, words));
  page.y = page.top + 24.0;
}

void draw_report_foot(FramedPage& page, const RigReport& report, const Words& words, std::size_t number,
                      std::size_t count) {
  const double top = page.bottom - report_foot_mm;
  const double third = (page.width() + 2.0 * FramedPage::inset_mm) / 3.0;
  const double left = page.left - FramedPage::inset_mm;
  page.sketch.line(Role::on_shaft, {left, top}, {page.right + FramedPage::inset_mm, top});
  draw_signature(page, left, left + third, top, words.qualified_by, words.date_and_signature);
  draw_signature(page, left + third, left + 2.0 * third, top, words.inspected_by, words.date_and_signature);
  const double x = left + 2.0 * third + 2.0;
  const double width = third - 4.0;
  const std::size_t block = page.sketch.begin(Passage::Kind::paragraph);
  page.sketch.text(Role::text, {{x, top + 5.0}, words.report_title, 3.0, Anchor::left, true, 0.6 * width});
  page.sketch.text(
      Role::text,
      {{x + width, top + 5.0}, page_words(words, number, count), report_letters_mm, Anchor::right, false, 0.37 * width},
      "page");
  draw_whole(page.sketch, {x, top + 13.5}, report.rig.name, width, 10.0, 3.5);
  page.sketch.text(
      Role::quiet,
      {{x, page.bottom - 2.0}, put_in(words.program, report.program), note_letters_mm, Anchor::left, false, width});
  page.sketch.end(block);
}

Picture picture_of(const RigReport& report, const Words& words) {
  std::vector<std::string> planes;
  for (const Plane& plane : report.shaft.planes) planes.push_back(plane.name);
  return qualification_picture(report.result, report.claims, planes, words);
}

/// As large as the page is wide, or the room that is left allows.
void draw_report_picture(FramedPages& pages, const RigReport& report, const Words& words) {
  constexpr double least_report_picture_mm = 80.0;
  const Picture picture = picture_of(report, words);
  FramedPage& page = pages.with_room(least_report_picture_mm);
  const double scale = std::min(page.width() / picture.width_mm, (pages.room_mm() - 4.0) / picture.height_mm);
  draw_picture(page, picture, {page.left + 0.5 * (page.width() - scale * picture.width_mm), page.y}, scale);
  page.y += scale * picture.height_mm + 2.0;
}

}  // namespace

RigReport rig_report_of(const RigWork& work, const Words& words) {
  const RigWorkState state = state_of(work);
  const auto* result = state.result<Qualification>();
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
    report.spins.push_back({static_cast<int>(k) + 1, words_of(state.plan[k], report.shaft, words), spun.speed_rad_s,
                            spun.recording.substr(spun.recording.find_last_of('/') + 1), spun.sha256});
    for (const SaidWarning& warning : spun.warnings)
      report.said.push_back({warning.message, warning.code, warning.sensor});
  }
  report.speed_rad_s = report.spins.front().speed_rad_s.value_or(0.0);
  for (const RigEvent& event : work.events)
    if (const auto* back = std::get_if<TakenBack>(&event.what)) report.taken_back.push_back(back->reason);
  return report;
}

std::string rig_report_file(const RigReport& report) {
  std::string name = report.rig.name;
  std::replace_if(
      name.begin(), name.end(), [](char letter) { return letter == ' ' || letter == '/' || letter == ','; }, '-');
  return fmt::format("{}-{}.pdf", name, utc_day(report.date_unix_s));
}

std::vector<Picture> rig_report_pages(const RigReport& report, const Words& words, Paper paper) {
  FramedPages pages(titled(report, words), paper, report_foot_mm,
                    [&](FramedPage& page) { draw_report_head(page, report, words); });
  draw_pairs(pages, report_facts(report, words));
  draw_table(pages, findings_table(report, words), {0.0, 0.23, 0.35, 0.64, 0.83}, 4);
  for (const std::string& note : findings_notes(report, words))
    draw_paragraph(pages, Role::text, "· " + note, report_letters_mm);
  draw_paragraph(pages, Role::quiet, recordings_sentence(report, words), report_letters_mm);
  for (const std::string& note : report_notes(report, words))
    draw_paragraph(pages, Role::quiet, "· " + note, note_letters_mm);
  pages.page().y += 3.0;
  draw_report_picture(pages, report, words);
  std::vector<Picture> pictures =
      std::move(pages).finished([&](FramedPage& page, std::size_t number, std::size_t count) {
        draw_report_foot(page, report, words, number, count);
      });
  for (Picture& picture : pictures) {
    picture.description = titled(report, words) + ": " + report_verdict(report, words);
    picture.language = words.language;
  }
  return pictures;
}

std::string rig_report_html(const RigReport& report, const Words& words) {
  std::vector<Row> spins{{"", words.spin, words.recordings, "SHA-256"}};
  for (const SheetSpin& spin : report.spins)
    spins.push_back(
        {std::to_string(spin.number), spin.label, spin.file.empty() ? words.typed_in : spin.file, spin.sha256});
  const char* const look = report.result.passed ? (all_judged(report) ? "within" : "unsure") : "outside";
  return html_head(words.language, titled(report, words)) +
         html_title(words.report_title, report.rig.name, report_verdict(report, words), look) +
         html_facts(report_facts(report, words)) + html_table(findings_table(report, words)) +
         html_paragraphs(findings_notes(report, words)) + html_pictures({picture_of(report, words)}) +
         html_paragraphs(report_notes(report, words)) + html_table(spins) +
         html_signatures({words.qualified_by, words.inspected_by}, words.date_and_signature) +
         html_paragraphs({put_in(words.program, report.program)}) + "</html>\n";
}

std::string rig_report_json(const RigReport& report) {
  Json document = {{"rig", report.rig.name},
                   {"reference_shaft", report.shaft.id},
                   {"program", report.program},
                   {"opened", utc_text(report.opened_unix_s)},
                   {"date", utc_text(report.date_unix_s)},
                   {"due", report.result.passed ? Json(utc_text(report.due_unix_s)) : Json(nullptr)},
                   {"speed_rpm", rpm(report.speed_rad_s)}};
  document.update(json_of(report.result));
  document.update({{"claimed_umar_gmm", in_g_mm(report.claims.umar_kg_m)},
                   {"small_over_mean", report.result.small_over_mean},
                   {"reductions", report.result.reductions},
                   {"spins", spins_json(report.spins)},
                   {"notes", report_notes(report, english())}});
  return one_line(document);
}

}  // namespace counterspot
