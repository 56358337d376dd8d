#include "commands/job_text.hpp"

#include <fmt/format.h>

#include "counterspot/log/log.hpp"

namespace counterspot::commands {

namespace {

std::string details_of(const Spun& spun, const Shaft& /*shaft*/) {
  std::string text = fmt::format("spin  {}", spun.label);
  if (spun.speed_rad_s) text += fmt::format(", {:.0f} rpm", rpm(*spun.speed_rad_s));
  for (const SensorReading& reading : spun.readings)
    text += fmt::format("\n        {}  {}", reading.sensor, counterspot::text_of(reading));
  if (!spun.recording.empty()) text += fmt::format("\n        {}  {:.12}", spun.recording, spun.sha256);
  for (const SaidWarning& warning : spun.warnings) text += fmt::format("\n        warning: {}", warning.message);
  return text + (spun.finding ? "\n        " + commands::text_of(*spun.finding) : "");
}

std::string details_of(const Fitted& fitted, const Shaft& shaft) {
  if (fitted.pieces.empty()) return "fit   nothing on the shaft that was not there as found";
  std::string text = "fit   now on the shaft:";
  for (const FittedWeight& piece : fitted.pieces) text += "\n        " + commands::text_of(piece, shaft);
  return text;
}

std::string details_of(const TakenBack& back, const Shaft& /*shaft*/) {
  return fmt::format("entry {} taken back: {}", back.number, back.reason);
}

std::string details_of(const Closed& closed, const Shaft& /*shaft*/) {
  if (!closed.final_spin) return fmt::format("closed without a final spin: {}", closed.reason);
  return fmt::format("closed on the spin of entry {}{}{}", *closed.final_spin,
                     closed.finding ? "\n        " + commands::text_of(*closed.finding) : "",
                     closed.reason.empty() ? "" : "\n        " + closed.reason);
}

}  // namespace

std::string text_of(const FittedWeight& piece, const Shaft& shaft) {
  return fmt::format("plane {}: {:.1f} g at {:.1f} deg, radius {:.1f} mm",
                     shaft.planes.at(static_cast<std::size_t>(piece.plane)).name, piece.mass_kg * 1e3,
                     degrees(wrap_positive(piece.angle_rad)), piece.radius_m * 1e3);
}

std::string text_of(const Finding& finding) {
  std::string text = fmt::format("{}:", verdict_name(finding.verdict));
  for (const Held& held : finding.held) {
    text += fmt::format("  {} {} of {:.0f} g·mm", held.place.text(),
                        measured(in_g_mm(held.residual_kg_m), in_g_mm(coverage_factor * held.u_residual_kg_m)),
                        in_g_mm(held.limit_kg_m));
  }
  if (finding.used_prior) text += "  (with what earlier shafts taught)";
  for (const SaidReason& reason : finding.held_back) text += fmt::format("\n        in doubt: {}", reason.message);
  return text;
}

std::string text_of(const Job& job) {
  const Shaft shaft = job.shaft();
  const JobState state = state_of(job.events);
  std::string text = fmt::format("JOB {}   {}   opened {}   {}\n", job.name, job.rig().name,
                                 utc_text(job.opened_unix_s), state.open ? "open" : "closed");
  for (const Event& event : job.events) {
    const bool counts = !state.taken_back.contains(event.number);
    text += fmt::format("{:>4}  {}  {}{}\n", event.number, utc_text(event.at_unix_s), counts ? "" : "(taken back) ",
                        std::visit([&](const auto& what) { return details_of(what, shaft); }, event.what));
  }
  return text;
}

}  // namespace counterspot::commands
