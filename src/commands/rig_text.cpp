#include "commands/rig_text.hpp"

#include <fmt/format.h>

#include "commands/output.hpp"
#include "report/job_text.hpp"
#include "report/rig_step_words.hpp"

namespace counterspot::commands {

namespace {

/// A failure is to be seen from a step away.
std::string_view verdict_word(RigVerdict verdict) {
  return verdict == RigVerdict::failed ? "FAILED" : rig_verdict_name(verdict);
}

std::string text_of(const std::vector<RigFinding>& findings) {
  std::string text;
  for (const RigFinding& finding : findings) {
    text += fmt::format("  {:<10} {}\n             {}\n", verdict_word(finding.verdict), rig_place_name(finding.place),
                        finding.words);
  }
  return text;
}

std::string next_action(const std::vector<RigFinding>& findings, const char* again) {
  for (const RigFinding& finding : findings) {
    if (finding.verdict == RigVerdict::failed)
      return fmt::format("NEXT  Mend what failed ({}), and {}.\n", rig_place_name(finding.place), again);
  }
  return "";
}

struct ResultText {
  const RigWork& work;

  std::string operator()(const std::monostate& /*none*/) const { return ""; }
  std::string operator()(const Qualification& result) const {
    std::string text = text_of(result.findings);
    text += fmt::format(
        "\n  Umar found {:.0f} g·mm in {}, {:.0f} g·mm in {};  reduction {:.1f} % at least;  mountings differ by "
        "{:.0f} "
        "g·mm\n",
        in_g_mm(result.umar_kg_m[0]), work.shaft().planes[0].name, in_g_mm(result.umar_kg_m[1]),
        work.shaft().planes[1].name, 100.0 * result.reduction, in_g_mm(result.remount_kg_m));
    return text + (result.passed ? "NEXT  'rig report' writes it down; 'rig check' each day.\n"
                                 : next_action(result.findings, "qualify the rig again"));
  }
  std::string operator()(const RigCheck& check) const {
    return text_of(check.findings) +
           (check.within ? "NEXT  Go on balancing.\n" : next_action(check.findings, "check again before any shaft"));
  }
  std::string operator()(const Recalibration& found) const {
    const Rig rig = work.rig();
    std::string text = "  " + found.words + "\n";
    if (!found.sound) return text + "NEXT  Mend sensors and cables, and begin again.\n";
    for (std::size_t s = 0; s < rig.sensors.size(); ++s) {
      text +=
          fmt::format("  sensor {}  {:.5g} of what its file says\n", rig.sensors[s].name, std::abs(found.change[s]));
    }
    return text + "NEXT  'rig recalibrate --write --rig rig.toml' writes the new sensitivities into the rig's file.\n";
  }
};

std::string details_of(const RigSpun& made, const RigWork& work) {
  return fmt::format("spin  step {}", made.step + 1) + below(lines_of(made.spun, work.shaft()), "\n        ");
}

std::string details_of(const TakenBack& back, const RigWork& work) {
  return heading_of(back) + below(lines_of(back, work.shaft()), "\n        ");
}

std::string details_of(const RigClosed& closed, const RigWork& work) {
  const std::string result = std::visit(ResultText{work}, closed.result);
  return result.empty() ? fmt::format("ended: {}", closed.reason) : "judged\n" + result;
}

}  // namespace

std::string text_of_next(const RigWork& work) {
  const RigStep step = next_step(work);
  const StepWords said = step_words(step, work);
  std::string text = fmt::format("RIG {}   {} with {}", work.rig().name, rig_task_name(work.task), work.shaft().id);
  if (step.number > 0) text += fmt::format("   {} of {}", step.number, step.of);
  text += fmt::format("\n\n  {}\n\n", said.words);
  for (const std::string& line : said.details) text += "  " + line + "\n";
  if (step.closed) text += std::visit(ResultText{work}, step.closed->result);
  if (step.number == 0) return text;
  return text + fmt::format("\n  {}\nNEXT  Spin, and 'rig spin RECORDING'.\n\n{}", rig_place_name(step.spin.place),
                            cautions());
}

std::string text_of(const RigWork& work) {
  std::string text = fmt::format("RIG {}   {} with {}, begun {}\n", work.rig().name, rig_task_name(work.task),
                                 work.shaft().id, utc_text(work.opened_unix_s));
  std::set<int> back;
  for (const RigEvent& event : work.events)
    if (const auto* taken = std::get_if<TakenBack>(&event.what)) back.insert(taken->number);
  for (const RigEvent& event : work.events) {
    text += fmt::format("{:>4}  {}  {}{}\n", event.number, utc_text(event.at_unix_s),
                        back.contains(event.number) ? "(taken back) " : "",
                        std::visit([&](const auto& what) { return details_of(what, work); }, event.what));
  }
  return text;
}

std::string text_of(const RigStanding& standing, const Rig& rig) {
  std::string text = fmt::format("RIG {}   ", rig.name);
  if (!standing.qualified_unix_s) {
    text += "never qualified\n";
  } else {
    text += fmt::format("qualified on {}, due {}{}\n", utc_day(*standing.qualified_unix_s),
                        utc_day(*standing.due_unix_s), standing.overdue ? ": OVERDUE" : "");
  }
  if (standing.last_failed) {
    text += "The last qualification FAILED:";
    for (RigPlace place : standing.failed_places) text += fmt::format(" {};", rig_place_name(place));
    text.back() = '\n';
  }
  if (standing.checked_unix_s)
    text += fmt::format("last check {}: {}\n", utc_text(*standing.checked_unix_s),
                        standing.check_within.value_or(false) ? "within" : "OUTSIDE");
  return text;
}

}  // namespace counterspot::commands
