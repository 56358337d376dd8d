#include "counterspot/guide/rig_guide.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>

#include "counterspot/files/files.hpp"
#include "counterspot/guide/tap_guide.hpp"
#include "counterspot/units/error.hpp"
#include "files/output_file.hpp"
#include "files/text_place.hpp"
#include "rig/recording_again.hpp"

namespace counterspot {

namespace {

std::vector<RigPlace> places_that_failed(const Qualification& result) {
  std::vector<RigPlace> places;
  for (const RigFinding& finding : result.findings)
    if (finding.verdict == RigVerdict::failed) places.push_back(finding.place);
  return places;
}

void fold_qualification(RigStanding& standing, const RigWork& work) {
  const RigWorkState state = state_of(work);
  const Qualification* result = state.result<Qualification>();
  if (result == nullptr) return;
  standing.last_failed = !result->passed;
  standing.failed_places = places_that_failed(*result);
  if (result->passed) standing.qualified_unix_s = state.closing->at_unix_s;
}

void fold_check(RigStanding& standing, const RigWork& work) {
  const RigWorkState state = state_of(work);
  const auto* check = state.result<RigCheck>();
  if (check == nullptr) return;
  standing.checked_unix_s = state.closing->at_unix_s;
  standing.check_within = check->within;
}

/// All but when it must be qualified again.
RigStanding shown_by(const Log& log, const std::string& rig) {
  RigStanding standing;
  for (const RigWork& work : rig_works(log, rig, RigTask::qualification)) fold_qualification(standing, work);
  for (const RigWork& work : rig_works(log, rig, RigTask::check)) fold_check(standing, work);
  standing.taps = newest_taps(log, rig);
  return standing;
}

}  // namespace

RigWork keep_rig_spin(Log& log, const RigWork& seen, const Spun& spun,
                      const std::optional<std::vector<FittedWeight>>& fitted, const std::string& program,
                      std::int64_t at_unix_s) {
  const RigSpun made{state_of(seen).next, spun, fitted};
  admit(seen, made);
  refuse_recording_again(seen, spun);
  RigWork grown = seen;
  grown.events.push_back({static_cast<int>(seen.events.size()) + 1, at_unix_s, program, made});
  std::vector<RigWhat> whats = {made};
  if (state_of(grown).complete()) {
    // Spins that cannot be judged are kept all the same: what is wrong with them is said, and one can be taken back.
    try {
      whats.emplace_back(RigClosed{"", result_of(grown)});
    } catch (const Error& error) {
      if (error.trouble() != Trouble::request) throw;
    }
  }
  return append(log, seen, whats, program, at_unix_s);
}

RigWork take_back_rig_spin(Log& log, const RigWork& seen, const std::string& reason, const std::string& program,
                           std::int64_t at_unix_s) {
  const auto last = state_of(seen).last_spin;
  return append(log, seen, {TakenBack{last ? last->number : 0, reason}}, program, at_unix_s);
}

RigHands hands_before_spin(const RigWork& work) {
  const RigStep step = next_step(work);
  RigHands hands;
  const RigSpun* last = nullptr;  // one that was taken back too: its masses were on all the same
  for (const RigEvent& event : work.events)
    if (const auto* spun = std::get_if<RigSpun>(&event.what)) last = spun;
  if (last != nullptr) {
    const auto plan = plan_of(work.task, work.rig(), work.shaft());
    const std::vector<FittedWeight>& planned = plan.at(static_cast<std::size_t>(last->step)).fitted;
    hands.take_off = last->fitted.value_or(planned);
    if (!last->fitted) hands.stay = pieces_without(planned, pieces_without(planned, step.spin.fitted));
  }
  hands.take_off = pieces_without(hands.take_off, hands.stay);
  hands.fit = pieces_without(step.spin.fitted, hands.stay);
  return hands;
}

void refuse_unlike_planned(const RigWork& work, const std::vector<FittedWeight>& masses) {
  constexpr double mass_alike = 0.2;
  constexpr double angle_alike_rad = turn_rad / 24.0;
  const RigStep step = next_step(work);
  if (step.number == 0) return;  // nothing is asked for
  const std::vector<FittedWeight>& planned = step.spin.fitted;
  const auto alike = [&](const FittedWeight& one, const FittedWeight& other) {
    const double turned_rad = std::abs(std::remainder(one.angle_rad - other.angle_rad, turn_rad));
    return one.plane == other.plane && turned_rad <= angle_alike_rad &&
           std::abs(one.unbalance_kg_m() / other.unbalance_kg_m() - 1.0) <= mass_alike;
  };
  const bool all_there = std::all_of(planned.begin(), planned.end(), [&](const FittedWeight& wanted) {
    return std::any_of(masses.begin(), masses.end(), [&](const FittedWeight& each) { return alike(each, wanted); });
  });
  if (all_there && masses.size() == planned.size()) return;
  throw Error(Trouble::request, "unlike_asked", "these are not the test masses that were asked for. Is it so?",
              "look at what was typed; if it is so, say it again with --as-typed");
}

FoundOrAgain<TapCheck> check_by_knocks(Log& log, const Rig& rig, const std::filesystem::path& knocks_a,
                                       const std::filesystem::path& knocks_b, const std::string& program,
                                       std::int64_t at_unix_s) {
  const auto a = open_recording(knocks_a);
  const auto b = open_recording(knocks_b);
  const auto before = taps_to_hold_against(log, rig.name, standing_of(log, rig, at_unix_s).sound_unix_s());
  auto found = tap_check(rig, *a, *b, before);
  if (const auto* check = std::get_if<TapCheck>(&found)) keep_taps(log, rig.name, *check, program, at_unix_s);
  return found;
}

std::vector<RigCheck> finished_checks(const Log& log, const std::string& rig) {
  std::vector<RigCheck> checks;
  for (const RigWork& work : rig_works(log, rig, RigTask::check)) {
    const RigWorkState state = state_of(work);
    if (const auto* check = state.result<RigCheck>()) checks.push_back(*check);
  }
  return checks;
}

std::optional<RigWork> last_proof(const Log& log, const std::string& rig) {
  std::optional<RigWork> last;
  for (RigWork& work : rig_works(log, rig, RigTask::qualification)) {
    const RigWorkState state = state_of(work);
    const auto* result = state.result<Qualification>();
    if (result != nullptr && result->passed) last = std::move(work);
  }
  return last;
}

bool in_last_day(std::int64_t at_unix_s, std::int64_t now_unix_s) {
  constexpr std::int64_t hours_24_s = 86400;
  return now_unix_s - at_unix_s < hours_24_s;
}

bool RigStanding::checked_in_last_day(std::int64_t now_unix_s) const {
  return (checked_unix_s && in_last_day(*checked_unix_s, now_unix_s)) ||
         (taps && in_last_day(taps->at_unix_s, now_unix_s));
}

std::int64_t RigStanding::sound_unix_s() const {
  const std::int64_t qualified = qualified_unix_s.value_or(0);
  return check_within == true ? std::max(qualified, *checked_unix_s) : qualified;
}

bool RigStanding::check_speaks_against() const {
  return check_within == false && *checked_unix_s >= qualified_unix_s.value_or(0);
}

bool RigStanding::taps_speak_against() const {
  return taps && !taps->within && taps->at_unix_s >= sound_unix_s();
}

RigStanding standing_of(const Log& log, const Rig& rig, std::int64_t now_unix_s) {
  RigStanding standing = shown_by(log, rig.name);
  if (!standing.qualified_unix_s) return standing;
  const double every_s = rig.claims.value_or(RigClaims()).every_s;
  standing.due_unix_s = *standing.qualified_unix_s + static_cast<std::int64_t>(every_s);
  standing.overdue = now_unix_s > *standing.due_unix_s;
  return standing;
}

RigWork finished_recalibration(const Log& log, const std::string& rig) {
  const auto works = rig_works(log, rig, RigTask::recalibration);
  if (!works.empty()) {
    const RigWorkState state = state_of(works.back());
    // What it was held against is of before a qualification.
    if (state.result<Recalibration>() != nullptr &&
        state.closing->at_unix_s >= shown_by(log, rig).qualified_unix_s.value_or(0))
      return works.back();
  }
  throw Error(Trouble::request, "not_recalibrated",
              fmt::format("no recalibration of rig {} is finished since it was qualified", rig),
              "make its spins first: 'rig recalibrate --rig rig.toml --shaft reference.toml'");
}

std::optional<Warning> qualification_due(const Log& log, const Rig& rig, std::int64_t now_unix_s) {
  const RigStanding standing = standing_of(log, rig, now_unix_s);
  if (!standing.overdue || standing.last_failed) return std::nullopt;
  return Warning{WarningCode::qualification_due, std::nullopt,
                 fmt::format("the qualification of rig {} was due on {}", rig.name, utc_day(*standing.due_unix_s))};
}

namespace {

/// A rig that is known not to reach what it claims speaks against what it shows. A check that failed does so until a
/// later check is within, or the rig is qualified anew.
void read_failure(const Log& log, const std::string& rig, RigKnowledge& knowledge) {
  const RigStanding standing = shown_by(log, rig);
  const auto notice = [&](const std::string& what) {
    knowledge.noticed.push_back({WarningCode::qualification_failed, std::nullopt, fmt::format("rig {} {}", rig, what)});
  };
  if (standing.last_failed) return notice("did not pass its last qualification");
  if (standing.check_speaks_against()) return notice("was outside its band at its last daily check");
  if (standing.taps_speak_against()) notice("is not as it was, by knocks: " + standing.taps->against.en);
}

}  // namespace

RigKnowledge knowledge_of_rig(const Log& log, const std::string& rig) {
  RigKnowledge knowledge;
  read_failure(log, rig, knowledge);
  if (const auto yardstick = last_yardstick(log, rig)) {
    knowledge.remount_kg_m = yardstick->remount_kg_m;
    knowledge.umar_kg_m = std::max(yardstick->umar_kg_m[0], yardstick->umar_kg_m[1]);
    knowledge.adapters = yardstick->adapters;
  }
  const auto records = log.rig_records(rig, "adapters");
  if (!records.empty()) knowledge.adapters = adapters_of(records.back().details);
  return knowledge;
}

std::string scaled_sensitivity(const std::string& text, double factor) {
  const Sensitivity stated = parse_sensitivity(text);
  std::size_t end = text.starts_with('-') ? 1 : 0;
  while (end < text.size() && (std::isdigit(static_cast<unsigned char>(text[end])) != 0 || text[end] == '.' ||
                               text[end] == ',' || text[end] == ' '))
    ++end;
  std::string number = text.substr(0, end);
  number.erase(std::remove(number.begin(), number.end(), ' '), number.end());
  std::replace(number.begin(), number.end(), ',', '.');
  double value = 0.0;
  std::from_chars(number.data(), number.data() + number.size(), value);
  std::string scaled = fmt::format("{:.5g} {}", value * factor, text.substr(end));
  // What is written must be read back as it is meant, whatever way the file puts it.
  const double read_back = parse_sensitivity(scaled).volts_per_si;
  if (std::abs(read_back / (stated.volts_per_si * factor) - 1.0) < 1e-4) return scaled;
  throw Error(Trouble::request, "no_place", fmt::format("'{}' is not a sensitivity that can be scaled", text),
              "write it like \"100 mV/g\"");
}

std::string with_new_sensitivities(const std::string& rig_text, const Rig& rig, const Recalibration& found) {
  refuse_no_sensitivity(rig);
  std::string text = rig_text;
  for (std::size_t s = 0; s < rig.sensors.size(); ++s) {
    const auto [from, length] = place_of_text(text, "sensor", rig.sensors[s].name, "sensitivity");
    const std::string stated = text.substr(from, length);
    // By what the file must be scaled now: it may have been written before.
    const double factor = found.volts_per_si[s] / parse_sensitivity(stated).volts_per_si;
    text.replace(from, length, scaled_sensitivity(stated, factor));
  }
  return text;
}

std::string put_right(const Log& log, const KeptFile& rig_file) {
  const Rig rig = read_rig_text(rig_file.text, rig_file.path);
  refuse_no_sensitivity(rig);
  const RigWork work = finished_recalibration(log, rig.name);
  const RigWorkState state = state_of(work);
  const Recalibration& found = *state.result<Recalibration>();
  if (!found.sound)
    throw Error(Trouble::request, "not_sound", "new sensitivities would not mend what has changed: " + found.words,
                "mend it, and recalibrate again");
  std::string text = with_new_sensitivities(rig_file.text, rig, found);
  read_rig_text(text, rig_file.path);  // never leave a file that cannot be read
  return text;
}

std::string write_put_right(const Log& log, const std::filesystem::path& rig_file) {
  read_rig(rig_file);  // for what it says of a file that cannot be read
  std::string text = put_right(log, kept_file(rig_file));
  write_output(rig_file, text, {Overwrite::all, {}});
  return text;
}

}  // namespace counterspot
