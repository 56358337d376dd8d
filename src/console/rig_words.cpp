#include "console/rig_words.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "console/words.hpp"
#include "counterspot/drawing/rig_words.hpp"
#include "counterspot/log/rig_log.hpp"
#include "counterspot/rig_setup/setup.hpp"
#include "counterspot/units/error.hpp"
#include "files/text_place.hpp"
#include "report/documents.hpp"
#include "report/job_text.hpp"
#include "report/rig_step_words.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

/// Where the page finds a picture of the rig.
Json drawn_at(const std::string& work, const Viewer& viewer) {
  return pictures_at("/rig-work.svg?work=" + work + "&", viewer);
}

Json masses_words(const std::vector<FittedWeight>& masses, const RigWork& work, const SpinRequest& request,
                  const Viewer& viewer) {
  Json list = Json::array();
  const Rig rig = work.rig();
  const Shaft shaft = work.shaft();
  for (const FittedWeight& mass : masses) {
    Json words = piece_at(mass, rig, shaft, request.high_rad_s, viewer);
    words["face"] = pictures_at(fmt::format("/face.svg?plane={}&work={}&entries={}&units={}&", mass.plane, work.uid,
                                            work.events.size(), viewer.units_name()),
                                viewer);
    list.push_back(words);
  }
  return list;
}

std::string listed(const std::vector<FittedWeight>& masses, const RigWork& work, const Viewer& viewer) {
  std::string text;
  for (const FittedWeight& mass : masses) {
    const Json words = piece_at(mass, work.rig(), work.shaft(), {}, viewer);
    text +=
        (text.empty() ? "" : ", ") + viewer.texts("placed", words["plane"].get<std::string>(),
                                                  words["mass"].get<std::string>(), words["clock"].get<std::string>());
  }
  return text;
}

/// A screen of work on the rig on which nothing is asked yet: the page looks for every one of these.
Json blank_screen() {
  Json screen;
  for (const char* list : {"first", "fit", "on", "choices", "planes", "held_back", "result", "why", "warned", "spins"})
    screen[list] = Json::array();
  for (const char* text : {"on_words", "stock_trouble", "spin_name"}) screen[text] = "";
  for (const char* none : {"taught", "stock", "take_back", "last_spin", "rig_result", "cautions"})
    screen[none] = nullptr;
  return screen;
}

/// What hands do first, a line each.
Json first_lines(const RigStep& step, const RigHands& hands, const RigWork& work, const Viewer& viewer) {
  Json lines = Json::array();
  if (!hands.take_off.empty()) lines.push_back(viewer.texts("rig_take_off", listed(hands.take_off, work, viewer)));
  if (!hands.stay.empty()) lines.push_back(viewer.texts("rig_stay", listed(hands.stay, work, viewer)));
  if (step.mounting) lines.push_back(viewer.texts("rig_mounting", mounting_text(step, viewer.words())));
  const bool bare = step.spin.fitted.empty();
  lines.push_back(viewer.texts(bare ? "rig_nothing_on" : "rig_nothing_else"));
  return lines;
}

std::string hands_title(const RigStep& step, const RigHands& hands, const RigWork& work, const Viewer& viewer) {
  if (!hands.fit.empty()) return viewer.texts("rig_fit");
  if (work.events.empty() || step.mounting == Mounting::mark_to_mark) return viewer.texts("rig_mount");
  return viewer.texts(step.mounting == Mounting::again ? "rig_turn" : "rig_bare");
}

/// What was found, and what follows from it.
Json result_words(const RigResult& result, const RigWork& work, const Viewer& viewer) {
  const auto told = told_result(result, work, viewer.words());
  if (!told) return nullptr;
  const RigWords& texts = viewer.words().rig_work();
  Json findings = Json::array();
  for (const ToldFinding& finding : told->findings)
    findings.push_back({{"place", texts.of_place(finding.place)},
                        {"verdict", rig_verdict_name(finding.verdict)},
                        {"verdict_words", texts.of_verdict(finding.verdict)},
                        {"words", finding.words}});
  const bool check = work.task == RigTask::check;
  const bool drawn = work.task != RigTask::recalibration;
  std::string next = viewer.texts(check ? "rig_within_next" : "rig_qualified_next");
  if (!drawn) next = viewer.texts("rig_recalibrated_next");
  if (!told->good) next = viewer.texts("rig_failed_next");
  return {{"good", told->good},
          {"findings", findings},
          {"lines", told->lines},
          {"next", next},
          {"picture", drawn ? drawn_at(check ? "" : work.uid, viewer) : Json(nullptr)},
          {"picture_words", drawn ? viewer.texts(check ? "picture_checks" : "picture_qualification") : ""}};
}

/// Of the spin before, while nothing was done about it.
Json warned_of(const RigWork& work, const Viewer& viewer) {
  if (work.events.empty()) return Json::array();
  const auto* made = std::get_if<RigSpun>(&work.events.back().what);
  return made != nullptr ? noticed_words(made->spun.warnings, viewer) : Json::array();
}

const char* step_name(const RigStep& step, bool on) {
  if (step.closed) return "nothing";
  if (step.number == 0) return "cannot_judge";
  return on ? "spin" : "fit_masses";
}

Json spins_words(const RigWork& work, const Viewer& viewer) {
  const RigWorkState state = state_of(work);
  Json list = Json::array();
  for (std::size_t k = 0; k < state.spins.size(); ++k) {
    if (!state.spins[k]) continue;
    const Spun& spun = std::get<RigSpun>(state.spins[k]->what).spun;
    Json lines = Json::array();
    for (const std::string& line : lines_of(without_warnings(spun), work.shaft(), viewer.units, viewer.words()))
      lines.push_back(line);
    list.push_back({{"number", state.spins[k]->number},
                    {"words", viewer.texts("spin_named", k + 1, words_of(state.plan[k], work.shaft(), viewer.words()))},
                    {"lines", lines}});
  }
  return list;
}

}  // namespace

Json words_of(const RigWork& work, const SpinRequest& request, bool on, const Viewer& viewer) {
  const RigWords& texts = viewer.words().rig_work();
  const RigStep step = next_step(work);
  const StepWords said = step_words(step, work, viewer.words());
  const bool asked = step.number > 0;
  const RigHands hands = asked ? hands_before_spin(work) : RigHands();
  const RigWorkState state = state_of(work);
  Json planes = Json::array();
  for (const Plane& plane : work.shaft().planes) planes.push_back(plane.name);
  const std::string number = asked ? " " + say(texts.number, step.number, step.of) : "";
  std::string title = said.words;
  if (asked) title = on ? viewer.texts("rig_spin") : hands_title(step, hands, work, viewer);
  const bool stuck = step.number == 0 && !step.closed;
  Json screen = blank_screen();
  screen.update({{"job", work.uid},
                 {"name", std::string(texts.of_task(work.task)) + number},
                 {"task", rig_task_name(work.task)},
                 {"entries", work.events.size()},
                 {"open", state.open},
                 {"step", step_name(step, on)},
                 {"shaft", work.shaft().id},
                 {"title", title},
                 {"work", document_of(work)},
                 {"on_words", on ? listed(step.spin.fitted, work, viewer) : ""},
                 {"planes", planes},
                 {"band", band_words(request, viewer)},
                 {"spins", spins_words(work, viewer)}});
  if (asked && !on) screen["first"] = first_lines(step, hands, work, viewer);
  if (asked && !on) screen["fit"] = masses_words(hands.fit, work, request, viewer);
  if (stuck) screen["why"] = said.details;
  if (stuck && state.last_spin) screen["take_back"] = state.last_spin->number;
  if (state.last_spin) screen["last_spin"] = state.last_spin->number;
  if (step.closed) {
    screen["rig_result"] = result_words(step.closed->result, work, viewer);
  } else {
    screen["warned"] = warned_of(work, viewer);
    screen["cautions"] = caution_words(viewer);
  }
  return screen;
}

namespace {

Json result_of_knocks(const FoundOrAgain<TapCheck>& found, const Viewer& viewer) {
  const auto in = [&](const Said& sentence) { return sentence.in(viewer.words().language); };
  Json lines = Json::array();
  bool good = false;
  std::string next;
  if (const auto* again = std::get_if<Again>(&found)) {
    lines.push_back(in(again->why));
    next = viewer.texts("knock_unread", in(again->instead));
  } else {
    const auto& check = std::get<TapCheck>(found);
    good = check.within;
    for (const Said& sentence : check.against) lines.push_back(viewer.texts("knock_wrong", in(sentence)));
    for (const Said& sentence : check.found) lines.push_back(in(sentence));
    lines.push_back(viewer.texts("knock_not_seen"));
    next = viewer.texts(good ? "rig_within_next" : "rig_failed_next");
  }
  return {{"good", good}, {"findings", Json::array()}, {"lines", lines},
          {"next", next}, {"picture", nullptr},        {"picture_words", ""}};
}

std::string title_of_knocks(const std::optional<FoundOrAgain<TapCheck>>& found, std::size_t recorded, const Rig& rig,
                            const Viewer& viewer) {
  if (!found) return viewer.texts("knock_at", recorded == 0 ? "A" : "B");
  if (std::holds_alternative<Again>(*found)) return viewer.texts("knock_again");
  const bool within = std::get<TapCheck>(*found).within;
  return viewer.texts(within ? "knock_within" : "knock_outside", rig.name);
}

}  // namespace

Json words_of_knocks(std::size_t recorded, bool recording, const std::optional<FoundOrAgain<TapCheck>>& found,
                     const Rig& rig, const Viewer& viewer) {
  const SetupInstruction asked = instruction_of(recorded == 0 ? SetupStep::knocks_a : SetupStep::knocks_b, {});
  const std::string& language = viewer.words().language;
  Json screen = blank_screen();
  screen.update({{"job", "knocks"},
                 {"name", viewer.texts("knock_check")},
                 {"task", "knocks"},
                 {"entries", recorded},
                 {"open", !found},
                 {"step", found       ? "nothing"
                          : recording ? "knocking"
                                      : "knock"},
                 {"title", title_of_knocks(found, recorded, rig, viewer)},
                 {"first", {asked.by_hand.in(language), asked.act.in(language)}}});
  if (found)
    screen["rig_result"] = result_of_knocks(*found, viewer);
  else
    screen["cautions"] = asked.caution.in(language);
  return screen;
}

Json words_of_writing(const RigWork& work, const Rig& rig, const std::string& before, const std::string& after,
                      const Viewer& viewer) {
  const auto stated = [&](const std::string& text, const Sensor& sensor) {
    const auto [from, length] = place_of_text(text, "sensor", sensor.name, "sensitivity");
    return with_decimal_sign(text.substr(from, length), viewer.words());
  };
  Json lines = Json::array();
  for (const Sensor& sensor : rig.sensors) {
    if (stated(before, sensor) == stated(after, sensor)) continue;
    lines.push_back(viewer.texts("rig_write_line", sensor.name, stated(before, sensor), stated(after, sensor)));
  }
  return {{"work", work.uid}, {"written", before == after}, {"lines", lines}, {"trouble", nullptr}};
}

Json words_of_unwritten(const RigWork& work, const Error& error, const Viewer& viewer) {
  return {{"work", work.uid},
          {"written", false},
          {"lines", Json::array()},
          {"trouble", viewer.texts("refused", refusal_text(error, viewer.words()),
                                   remedy_text(error.code(), error.remedy(), viewer.words()))}};
}

namespace {

/// Empty: the sensors can be recalibrated.
std::string why_not_recalibrated(const Rig& rig, const Viewer& viewer) {
  try {
    refuse_no_sensitivity(rig);
  } catch (const Error& error) {
    return viewer.texts("rig_no_recalibration", refusal_text(error, viewer.words()));
  }
  return "";
}

/// What the rig can do.
Json proved_by(const std::optional<RigWork>& proof, const Viewer& viewer) {
  if (!proof) return nullptr;
  const RigWorkState state = state_of(*proof);
  return {{"work", proof->uid},
          {"shaft", proof->shaft().id},
          {"words", numbers_text(*state.result<Qualification>(), proof->shaft(), viewer.words())},
          {"picture", drawn_at(proof->uid, viewer)},
          {"picture_words", viewer.texts("picture_qualification")}};
}

/// The newest first.
Json works_words(const Log& log, const std::string& rig, const Viewer& viewer) {
  std::vector<RigWork> works;
  for (RigTask task : {RigTask::qualification, RigTask::check, RigTask::recalibration})
    for (RigWork& work : rig_works(log, rig, task)) works.push_back(std::move(work));
  std::stable_sort(works.begin(), works.end(),
                   [](const RigWork& one, const RigWork& other) { return one.opened_unix_s > other.opened_unix_s; });
  constexpr std::size_t shown = 30;
  works.resize(std::min(works.size(), shown));
  Json list = Json::array();
  for (const RigWork& work : works) {
    const RigStep step = next_step(work);
    const std::string words = step.closed || step.number == 0
                                  ? step_words(step, work, viewer.words()).words
                                  : say(viewer.words().rig_work().number, step.number, step.of);
    list.push_back({{"task", viewer.words().rig_work().of_task(work.task)},
                    {"shaft", work.shaft().id},
                    {"opened", local_minute(work.opened_unix_s)},
                    {"words", words}});
  }
  return list;
}

}  // namespace

Json words_of(const Log& log, const Rig& rig, const Viewer& viewer) {
  const std::int64_t now = now_unix_s();
  const RigStanding standing = standing_of(log, rig, now);
  Warnings holds = knowledge_of_rig(log, rig.name).noticed;
  const bool held = !holds.empty();
  if (const auto due = qualification_due(log, rig, now)) holds.push_back(*due);
  Json lines = lines_of(standing, rig, viewer.words(), local_minute);
  const bool checked = standing.checked_in_last_day(now);
  lines.push_back(viewer.texts(checked ? "rig_checked_in_day" : "rig_not_checked"));
  return {{"standing", document_of(standing, rig)},
          {"lines", lines},
          {"held", held},
          {"verdicts", viewer.texts(held ? "rig_holds_back" : "rig_holds_nothing")},
          {"holds", viewer.told(json_of(holds))},
          {"proved", proved_by(last_proof(log, rig.name), viewer)},
          {"no_recalibration", why_not_recalibrated(rig, viewer)},
          {"checks", finished_checks(log, rig.name).empty() ? Json(nullptr) : drawn_at("", viewer)},
          {"checks_words", viewer.texts("picture_checks")},
          {"works", works_words(log, rig.name, viewer)}};
}

}  // namespace counterspot
