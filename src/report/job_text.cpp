#include "report/job_text.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "counterspot/drawing/instruction_words.hpp"
#include "counterspot/log/log.hpp"
#include "counterspot/log/signature.hpp"
#include "counterspot/tolerance/held_text.hpp"
#include "report/order_text.hpp"
#include "report/step_words.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

using Lines = std::vector<std::string>;

std::string text_of(const Held& held, UnitSystem units, const Words& words) {
  const InstructionWords& texts = words.instruction();
  const HeldText shown = held_text(held, units);
  const auto text = [&](const std::string& number) {
    return fmt::format("{} {}", with_decimal_sign(number, words), unbalance_unit(units));
  };
  return say(texts.held, held_place_text(held.place, words), text(shown.residual), text(shown.limit),
             verdict_text(held.verdict, words));
}

void add(Lines& lines, const std::optional<Finding>& finding, UnitSystem units, const Words& words) {
  if (!finding) return;
  for (const Held& held : finding->held) lines.push_back(text_of(held, units, words));
}

Lines lines_of_entry(const Spun& spun, const Shaft& /*shaft*/, UnitSystem units, const Words& words) {
  const InstructionWords& texts = words.instruction();
  Lines lines;
  if (spun.speed_rad_s) lines.push_back(say(texts.speed_read, number_text(rpm(*spun.speed_rad_s), 1, words)));
  for (const SensorReading& reading : spun.readings)
    lines.push_back(say(texts.sensor_read, reading.sensor, text_of(reading, words)));
  if (!spun.recording.empty()) lines.push_back(fmt::format("{}  {:.12}", spun.recording, spun.sha256));
  for (std::string& line : lines_of(spun.warnings, words)) lines.push_back(std::move(line));
  add(lines, spun.finding, units, words);
  if (spun.finding && spun.finding->used_prior) lines.push_back(taught_text(*spun.finding, words));
  return lines;
}

Lines lines_of_entry(const Fitted& fitted, const Shaft& shaft, UnitSystem units, const Words& words) {
  if (fitted.pieces.empty()) return {words.instruction().nothing_more_on};
  Lines lines;
  for (const FittedWeight& piece : fitted.pieces) lines.push_back(text_of(piece, shaft, units, words));
  return lines;
}

Lines lines_of_entry(const TakenBack& back, const Shaft& /*shaft*/, UnitSystem /*units*/, const Words& words) {
  return {say(words.instruction().entry, back.number, back.reason)};
}

Lines lines_of_entry(const Closed& closed, const Shaft& /*shaft*/, UnitSystem units, const Words& words) {
  Lines lines;
  if (!closed.reason.empty()) lines.push_back(closed.reason);
  add(lines, closed.finding, units, words);
  if (closed.finding && closed.finding->used_prior) lines.push_back(taught_text(*closed.finding, words));
  return lines;
}

Lines lines_of_entry(const Signed& made, const Shaft& /*shaft*/, UnitSystem /*units*/, const Words& words) {
  return {say(words.instruction().signed_by, made.by, key_code(made.public_key))};
}

Lines lines_of_entry(const Ordered& said, const Shaft& /*shaft*/, UnitSystem /*units*/, const Words& words) {
  return lines_of(said.order, words);
}

}  // namespace

std::string held_place_text(const HeldPlace& place, const Words& words) {
  switch (place.kind) {
    case HeldPlace::Kind::plane: break;
    case HeldPlace::Kind::support: return say(words.support, place.name);
    case HeldPlace::Kind::mode: return say(words.mode, place.name);
  }
  return place.name;
}

std::string instruction_text(const KnownJob& known, const Words& words) {
  const InstructionWords& texts = words.instruction();
  const NextStep step = known.next();
  const StepWords said = step_words(step, known, words);
  const auto finding = finding_of(known.analysis);
  std::string text = say(texts.job, known.job.name) + "\n\n";
  if (finding) text += held_back_text(finding->held_back, words);
  text += fmt::format("  {}\n{}\n", said.words, below(said.details, "\n  "));
  if (step.take_back) text += "\n  " + say(texts.takes_back, *step.take_back) + "\n";
  if (finding)
    text += fmt::format("\n  {}{}\n", texts.now, fmt::join(lines_of(*finding, UnitSystem::metric, words), "\n      "));
  return text + (wants_hands(step.kind) ? "\n" + cautions(words) : "");
}

std::string closing_text(const Job& job, const Words& words) {
  const InstructionWords& texts = words.instruction();
  const auto& finding = closing_in(job).finding;
  const Lines lines = finding ? lines_of(*finding, UnitSystem::metric, words) : Lines{texts.without_residual};
  const bool within = finding && finding->verdict == Verdict::within;
  return say(texts.job_is_closed, job.name) + below(lines, "\n  ") + "\n" +
         say(within ? texts.closed_within : texts.closed_otherwise, job.name) + "\n";
}

std::string stated_text(const NextStep& asked, const Job& job, const Words& words) {
  const InstructionWords& texts = words.instruction();
  const auto fitted = std::find_if(job.events.rbegin(), job.events.rend(),
                                   [](const Event& event) { return std::holds_alternative<Fitted>(event.what); });
  const auto pieces_text = [&](const std::vector<FittedWeight>& pieces, bool numbered = false) {
    Lines lines;
    for (const FittedWeight& piece : pieces) {
      const std::string number = numbered ? fmt::format("({}) ", lines.size() + 1) : "";  // as 'job fit --off' takes it
      lines.push_back(number + text_of(piece, job.shaft(), UnitSystem::metric, words));
    }
    return lines.empty() ? std::string(texts.nothing) : fmt::format("{}", fmt::join(lines, "; "));
  };
  std::string text = say(texts.stated, fitted->number) + "\n  " + texts.now_on +
                     pieces_text(std::get<Fitted>(fitted->what).pieces, true) + "\n";
  if (asked.instead) text += std::string("  ") + texts.asked_bare + pieces_text(asked.instead->pieces) + "\n";
  if (!asked.pieces.empty())
    text += std::string("  ") + (asked.instead ? texts.or_on_top : texts.asked_for) + pieces_text(asked.pieces) + "\n";
  return text + "\n";
}

std::string taken_back_text(const Job& job, int entry, const Words& words) {
  const What& what = job.events.at(static_cast<std::size_t>(entry - 1)).what;
  return say(words.instruction().was_taken_back, entry, heading_of(what, words)) +
         below(lines_of(what, job.shaft(), UnitSystem::metric, words), "\n  ") + "\n\n";
}

std::string order_text(const Job& job, const Words& words) {
  const Lines lines = lines_of(order_of(job), words);
  return say(words.instruction().order_of, job.name) +
         below(lines.empty() ? Lines{words.instruction().no_order} : lines, "\n  ") + "\n";
}

std::string text_of(const FittedWeight& piece, const Shaft& shaft, UnitSystem units, const Words& words) {
  return say(words.instruction().piece, shaft.planes.at(static_cast<std::size_t>(piece.plane)).name,
             with_decimal_sign(mass_text(piece.mass_kg, units), words),
             number_text(degrees(wrap_positive(piece.angle_rad)), 1, words), tape_text(piece.radius_m, units));
}

Lines lines_of(const Finding& finding, UnitSystem units, const Words& words) {
  Lines lines{verdict_text(finding.verdict, words)};
  if (finding.used_prior) lines.front() += ", " + taught_text(finding, words);
  add(lines, finding, units, words);
  for (const SaidReason& reason : finding.held_back)
    lines.push_back(say(words.instruction().doubted, meaning_text(reason.code, reason.message, reason.sensors, words)));
  return lines;
}

std::string taught_text(const Finding& finding, const Words& words) {
  const InstructionWords& texts = words.instruction();
  if (!finding.used_prior) return "";
  if (finding.rig_taught_by == 0) return texts.taught_by_shafts;
  const std::string from = finding.brought_in > 0 ? say(texts.from_elsewhere, finding.brought_in) : "";
  return say(texts.taught_by_rig, finding.rig_taught_by, from);
}

std::string heading_of(const What& what, const Words& words) {
  const InstructionWords& texts = words.instruction();
  if (const auto* spun = std::get_if<Spun>(&what)) return say(texts.spin, spun->label);
  if (std::holds_alternative<Fitted>(what)) return texts.on_from_here;
  if (std::holds_alternative<TakenBack>(what)) return texts.taken_back;
  if (std::holds_alternative<Signed>(what)) return texts.signed_now;
  if (std::holds_alternative<Ordered>(what)) return texts.order_said;
  const auto& final_spin = std::get<Closed>(what).final_spin;
  return final_spin ? say(texts.closed_on_spin, *final_spin) : texts.closed_without_spin;
}

Lines lines_of(const What& what, const Shaft& shaft, UnitSystem units, const Words& words) {
  return std::visit([&](const auto& entry) { return lines_of_entry(entry, shaft, units, words); }, what);
}

What without_warnings(What what) {
  if (auto* spun = std::get_if<Spun>(&what)) spun->warnings.clear();
  return what;
}

std::string text_of(const Job& job, const Words& words) {
  const InstructionWords& texts = words.instruction();
  const JobState state = state_of(job.events);
  std::string text = say(texts.job_stands, job.name, job.rig().name, utc_text(job.opened_unix_s),
                         state.open ? texts.open : texts.closed) +
                     "\n";
  std::vector<NoticedAt> noticed;
  for (const Event& event : job.events) {
    const bool gone = state.taken_back.contains(event.number);
    const auto* spun = std::get_if<Spun>(&event.what);
    if (spun != nullptr && !gone) noticed.push_back({spun->label, spun->warnings});
    const What what = gone ? event.what : without_warnings(event.what);
    text += fmt::format("{:>4}  {}  {}{}{}\n", event.number, utc_text(event.at_unix_s), gone ? texts.gone : "",
                        heading_of(what, words),
                        below(lines_of(what, job.shaft(), UnitSystem::metric, words), "\n        "));
  }
  for (const std::string& line : lines_of(noticed, words)) text += line + "\n";
  return text;
}

std::string below(const Lines& lines, const std::string& margin) {
  std::string text;
  for (const std::string& line : lines) text += margin + line;
  return text;
}

std::string held_back_text(const std::vector<SaidReason>& held_back, const Words& words) {
  std::string text;
  for (const SaidReason& reason : held_back) {
    text += say(words.instruction().held_back, spins_text(reason.spins, words),
                meaning_text(reason.code, reason.message, reason.sensors, words),
                remedy_text(reason.code, reason.remedy, words));
  }
  return text.empty() ? text : text + "\n";
}

}  // namespace counterspot
