#include "commands/rig_text.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "commands/output.hpp"
#include "counterspot/drawing/instruction_words.hpp"
#include "counterspot/drawing/rig_words.hpp"
#include "report/job_text.hpp"
#include "report/rig_step_words.hpp"
#include "report/text.hpp"

namespace counterspot::commands {

namespace {

std::string next_text(const ToldResult& told, RigTask task, const RigWords& texts) {
  if (task == RigTask::recalibration) return told.good ? texts.write_next : texts.begin_again;
  const bool check = task == RigTask::check;
  if (told.good) return check ? texts.go_on : texts.report_next;
  const auto failed = std::ranges::find(told.findings, RigVerdict::failed, &ToldFinding::verdict);
  if (failed == told.findings.end()) return "";
  return say(texts.mend, texts.of_place(failed->place), check ? texts.check_again : texts.qualify_again);
}

/// How the sensitivities change that can be written.
std::string sensitivities_text(const RigResult& result, const Rig& rig, const Words& words) {
  const auto* const found = std::get_if<Recalibration>(&result);
  std::string text;
  for (std::size_t s = 0; found != nullptr && found->sound && s < rig.sensors.size(); ++s) {
    const std::string change = with_decimal_sign(fmt::format("{:.5g}", std::abs(found->change[s])), words);
    text += "  " + say(words.rig_work().sensitivity_change, rig.sensors[s].name, change) + "\n";
  }
  return text;
}

/// A line for each thing found, the next action last.
std::string result_text(const RigResult& result, const RigWork& work, const Words& words) {
  const auto told = told_result(result, work, words);
  if (!told) return "";
  const RigWords& texts = words.rig_work();
  const std::size_t width = texts.of_verdict(RigVerdict::not_judged).size();
  std::string text;
  for (const ToldFinding& finding : told->findings)
    text += fmt::format("  {:<{}} {}\n{:{}}{}\n",
                        finding.verdict == RigVerdict::failed ? texts.failed_loud : texts.of_verdict(finding.verdict),
                        width, texts.of_place(finding.place), "", width + 3, finding.words);
  if (work.task == RigTask::qualification) text += "\n";
  for (const std::string& line : told->lines) text += "  " + line + "\n";
  text += sensitivities_text(result, work.rig(), words);
  const std::string next = next_text(*told, work.task, texts);
  return next.empty() ? text : text + next + "\n";
}

std::string head_of(const RigWork& work, const RigWords& texts) {
  return say(texts.head, work.rig().name, texts.of_task(work.task), work.shaft().id);
}

constexpr const char* margin = "\n        ";

std::string details_of(const RigSpun& made, const RigWork& work, const Words& words) {
  return say(words.rig_work().spin_of_step, made.step + 1) +
         below(lines_of(without_warnings(made.spun), work.shaft(), UnitSystem::metric, words), margin);
}

std::string details_of(const TakenBack& back, const RigWork& work, const Words& words) {
  return heading_of(back, words) + below(lines_of(back, work.shaft(), UnitSystem::metric, words), margin);
}

std::string details_of(const RigClosed& closed, const RigWork& work, const Words& words) {
  const RigWords& texts = words.rig_work();
  const std::string result = result_text(closed.result, work, words);
  return result.empty() ? say(texts.ended_by, closed.reason) : texts.judged + ("\n" + result);
}

}  // namespace

std::string text_of_next(const RigWork& work, const Words& words) {
  const RigWords& texts = words.rig_work();
  const RigStep step = next_step(work);
  const StepWords said = step_words(step, work, words);
  std::string text = head_of(work, texts);
  if (step.number > 0) text += "   " + say(texts.number, step.number, step.of);
  text += fmt::format("\n\n  {}\n\n", said.words);
  for (const std::string& line : said.details) text += "  " + line + "\n";
  if (step.closed) text += result_text(step.closed->result, work, words);
  if (step.number == 0) return text;
  return text + fmt::format("\n  {}\n{}\n\n{}", texts.of_place(step.spin.place), texts.spin_next, cautions(words));
}

std::string text_of(const RigWork& work, const Words& words) {
  const RigWords& texts = words.rig_work();
  std::string text;
  std::set<int> back;
  for (const RigEvent& event : work.events)
    if (const auto* taken = std::get_if<TakenBack>(&event.what)) back.insert(taken->number);
  std::vector<NoticedAt> noticed;
  for (const RigEvent& event : work.events) {
    const auto* made = std::get_if<RigSpun>(&event.what);
    if (made != nullptr && !back.contains(event.number))
      noticed.push_back({std::to_string(made->step + 1), made->spun.warnings});
    text += fmt::format("{:>4}  {}  {}{}\n", event.number, utc_text(event.at_unix_s),
                        back.contains(event.number) ? words.instruction().gone : "",
                        std::visit([&](const auto& what) { return details_of(what, work, words); }, event.what));
  }
  std::string head = head_of(work, texts) + say(texts.begun, utc_text(work.opened_unix_s)) + "\n";
  for (const std::string& line : lines_of(noticed, words)) head += line + "\n";
  return head + text;
}

std::string text_of(const RigStanding& standing, const Rig& rig, const Words& words) {
  return fmt::format("{}\n", fmt::join(lines_of(standing, rig, words), "\n"));
}

}  // namespace counterspot::commands
