#include "report/job_text.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "counterspot/drawing/instruction_words.hpp"
#include "counterspot/log/log.hpp"
#include "counterspot/log/signature.hpp"
#include "counterspot/tolerance/held_text.hpp"
#include "report/step_words.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

using Lines = std::vector<std::string>;

std::string place_text(const HeldPlace& place, const InstructionWords& texts) {
  switch (place.kind) {
    case HeldPlace::Kind::plane: break;
    case HeldPlace::Kind::support: return put_in(texts.support, place.name);
    case HeldPlace::Kind::mode: return put_in(texts.mode, place.name);
  }
  return place.name;
}

std::string text_of(const Held& held, UnitSystem units, const Words& words) {
  const InstructionWords& texts = words.instruction();
  const HeldText shown = held_text(held, units);
  const auto text = [&](const std::string& number) {
    return fmt::format("{} {}", with_decimal_sign(number, words), unbalance_unit(units));
  };
  return fmt::format(fmt::runtime(texts.held), place_text(held.place, texts), text(shown.residual), text(shown.limit),
                     verdict_text(held.verdict, words));
}

void add(Lines& lines, const std::optional<Finding>& finding, UnitSystem units, const Words& words = english()) {
  if (!finding) return;
  for (const Held& held : finding->held) lines.push_back(text_of(held, units, words));
}

Lines lines_of_entry(const Spun& spun, const Shaft& /*shaft*/, UnitSystem units) {
  Lines lines;
  if (spun.speed_rad_s) lines.push_back(fmt::format("{:.1f} rpm", rpm(*spun.speed_rad_s)));
  for (const SensorReading& reading : spun.readings)
    lines.push_back(fmt::format("sensor {}: {}", reading.sensor, text_of(reading)));
  if (!spun.recording.empty()) lines.push_back(fmt::format("{}  {:.12}", spun.recording, spun.sha256));
  for (const SaidWarning& warning : spun.warnings) lines.push_back("warning: " + warning.message);
  add(lines, spun.finding, units);
  if (spun.finding && spun.finding->used_prior) lines.push_back(taught_text(*spun.finding));
  return lines;
}

Lines lines_of_entry(const Fitted& fitted, const Shaft& shaft, UnitSystem units) {
  if (fitted.pieces.empty()) return {"nothing that was not there as found"};
  Lines lines;
  for (const FittedWeight& piece : fitted.pieces) lines.push_back(text_of(piece, shaft, units));
  return lines;
}

Lines lines_of_entry(const TakenBack& back, const Shaft& /*shaft*/, UnitSystem /*units*/) {
  return {fmt::format("entry {}: {}", back.number, back.reason)};
}

Lines lines_of_entry(const Closed& closed, const Shaft& /*shaft*/, UnitSystem units) {
  Lines lines;
  if (!closed.reason.empty()) lines.push_back(closed.reason);
  add(lines, closed.finding, units);
  if (closed.finding && closed.finding->used_prior) lines.push_back(taught_text(*closed.finding));
  return lines;
}

Lines lines_of_entry(const Signed& made, const Shaft& /*shaft*/, UnitSystem /*units*/) {
  return {fmt::format("by {}, key {}", made.by, key_code(made.public_key))};
}

}  // namespace

std::string title_of(StepKind kind) {
  switch (kind) {
    case StepKind::spin_as_found: return "Spin the shaft as found";
    case StepKind::spin: return "Spin it with what is fitted";
    case StepKind::spin_again: return "Spin again, longer";
    case StepKind::fit_trial: return "Fit a trial weight";
    case StepKind::fit_correction: return "Fit what is shown";
    case StepKind::say_fitted: return "What is on the shaft?";
    case StepKind::close: return "Within limit";
    case StepKind::close_not_within: return "Not within limit";
    case StepKind::mend: return "Check the spins";
    case StepKind::nothing: return "This job is closed";
  }
  return "";
}

std::string instruction_text(const KnownJob& known, const Words& words) {
  const InstructionWords& texts = words.instruction();
  const NextStep step = known.next();
  const StepWords said = step_words(step, known, words);
  const auto finding = finding_of(known.analysis);
  std::string text = put_in(texts.job, known.job.name) + "\n\n";
  if (finding) text += held_back_text(finding->held_back, words);
  text += fmt::format("  {}\n{}\n", said.words, below(said.details, "\n  "));
  if (step.take_back) text += "\n  " + put_in(texts.takes_back, std::to_string(*step.take_back)) + "\n";
  if (finding)
    text += fmt::format("\n  {}{}\n", texts.now, fmt::join(lines_of(*finding, UnitSystem::metric, words), "\n      "));
  return text + (wants_hands(step.kind) ? "\n" + cautions(words) : "");
}

std::string expected_text(double over_limit) {
  return fmt::format("expected to leave about {:.0f} % of the limit", 100.0 * over_limit);
}

std::string text_of(const FittedWeight& piece, const Shaft& shaft, UnitSystem units) {
  return fmt::format("plane {}: {} at {:.1f} deg, radius {}",
                     shaft.planes.at(static_cast<std::size_t>(piece.plane)).name, mass_text(piece.mass_kg, units),
                     degrees(wrap_positive(piece.angle_rad)), tape_text(piece.radius_m, units));
}

Lines lines_of(const Finding& finding, UnitSystem units, const Words& words) {
  Lines lines{verdict_text(finding.verdict, words)};
  if (finding.used_prior) lines.front() += ", " + taught_text(finding, words);
  add(lines, finding, units, words);
  for (const SaidReason& reason : finding.held_back)
    lines.push_back(
        put_in(words.instruction().doubted, meaning_text(reason.code, reason.message, reason.sensors, words)));
  return lines;
}

std::string taught_text(const Finding& finding, const Words& words) {
  const InstructionWords& texts = words.instruction();
  if (!finding.used_prior) return "";
  if (finding.rig_taught_by == 0) return texts.taught_by_shafts;
  const std::string from =
      finding.brought_in > 0 ? put_in(texts.from_elsewhere, std::to_string(finding.brought_in)) : "";
  return fmt::format(fmt::runtime(texts.taught_by_rig), finding.rig_taught_by, from);
}

std::string heading_of(const What& what) {
  if (const auto* spun = std::get_if<Spun>(&what)) return "spin: " + spun->label;
  if (std::holds_alternative<Fitted>(what)) return "on the shaft from here on";
  if (std::holds_alternative<TakenBack>(what)) return "taken back";
  if (std::holds_alternative<Signed>(what)) return "signed";
  const auto& final_spin = std::get<Closed>(what).final_spin;
  return final_spin ? fmt::format("closed on the spin of entry {}", *final_spin) : "closed without a final spin";
}

Lines lines_of(const What& what, const Shaft& shaft, UnitSystem units) {
  return std::visit([&](const auto& entry) { return lines_of_entry(entry, shaft, units); }, what);
}

std::string text_of(const Job& job) {
  const JobState state = state_of(job.events);
  std::string text = fmt::format("JOB {}   {}   opened {}   {}\n", job.name, job.rig().name,
                                 utc_text(job.opened_unix_s), state.open ? "open" : "closed");
  for (const Event& event : job.events) {
    text += fmt::format("{:>4}  {}  {}{}{}\n", event.number, utc_text(event.at_unix_s),
                        state.taken_back.contains(event.number) ? "(taken back) " : "", heading_of(event.what),
                        below(lines_of(event.what, job.shaft()), "\n        "));
  }
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
    text += fmt::format(fmt::runtime(words.instruction().held_back), spins_text(reason.spins, words),
                        meaning_text(reason.code, reason.message, reason.sensors, words),
                        remedy_text(reason.code, reason.remedy, words));
  }
  return text.empty() ? text : text + "\n";
}

}  // namespace counterspot
