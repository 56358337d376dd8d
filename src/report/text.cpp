#include "report/text.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <cmath>

#include "counterspot/drawing/command_words.hpp"
#include "counterspot/drawing/instruction_words.hpp"
#include "units/warning_table.hpp"

namespace counterspot {

Said sentence_of(const Error& error) {
  return {std::string(error.what()) + "; " + error.remedy(),
          refusal_text(error, german()) + "; " + remedy_text(error.code(), error.remedy(), german())};
}

Said sentence_of(const std::exception& fault) {
  return said({"a fault of the program: {}", "ein Fehler des Programms: {}"}, fault.what());
}

std::string text_of(const SensorReading& reading, const Words& words) {
  return with_decimal_sign(say(words.instruction().reading,
                               fmt::format("{:.4g}", std::abs(reading.value) / si_per_display_unit(reading.motion)),
                               display_unit(reading.motion), fmt::format("{:.1f}", direction_deg(reading.value))),
                           words);
}

std::string tape_and_angle_text(const Spot& spot, UnitSystem units, const Words& words) {
  const InstructionWords& texts = words.instruction();
  const std::string angle = say(texts.shaft_angle, number_text(degrees(spot.angle_rad), 1, words));
  if (!spot.arc) return angle;
  const std::string length = tape_text(spot.arc->length_m, units);
  if (length == tape_text(0.0, units)) return say(texts.at_mark, angle);
  const bool with = spot.arc->direction == ArcDirection::with_rotation;
  return say(texts.tape_from_mark, length, with ? words.with_rotation : words.against_rotation, angle);
}

std::string spot_text(const Spot& spot, UnitSystem units) {
  return spot.clock.text() + ", " + tape_and_angle_text(spot, units);
}

std::string rule_text(TrialRule rule, const Words& words) {
  return std::string(&words == &english() ? trial_rule_name(rule) : words.instruction().of_rule(rule));
}

std::string figures_text(const std::string& said, const Words& words) {
  const InstructionWords& texts = words.instruction();
  const std::pair<std::string, std::string> parts[] = {
      {" and ", texts.and_between}, {" to ", texts.to_between}, {" rpm", words.rpm}, {" deg", words.degree}};
  std::string text = with_decimal_sign(fmt::format("{}", fmt::join(figures_in(said), "; ")), words);
  for (const auto& [in_english, put] : parts)
    for (std::size_t at = text.find(in_english); at != std::string::npos; at = text.find(in_english, at + put.size()))
      text.replace(at, in_english.size(), put);
  return text;
}

namespace {

bool is_opening_quote(const std::string& text, std::size_t at) {
  return text[at] == '\'' && (at == 0 || text[at - 1] == ' ' || text[at - 1] == '(');
}

/// What stands in quotation marks: keys, names, values as they were typed.
std::vector<std::string> quoted_in(const std::string& text) {
  std::vector<std::string> quoted;
  for (std::size_t at = 0; at < text.size(); ++at) {
    if (!is_opening_quote(text, at)) continue;
    const std::size_t end = text.find('\'', at + 1);
    if (end == std::string::npos) break;
    quoted.push_back(text.substr(at, end + 1 - at));
    at = end;
  }
  return quoted;
}

/// The file, folder, job or option that a refusal begins with, and the line in it: "shaft.toml:7: ".
std::string where_in(const std::string& text) {
  const std::size_t end = std::min(text.find_first_of(" ,"), text.size());
  std::string first = text.substr(0, end);
  const bool place = first.ends_with(':') || first.find('/') != std::string::npos ||
                     first.find('.') != std::string::npos || first.starts_with("--");
  if (!place) return "";
  while (first.ends_with(':')) first.pop_back();
  return first + ": ";
}

/// "Zeile 7, Spalte 2", as far as it is said in figures.
std::vector<std::string> places_in(const std::string& text, const LogWords& texts) {
  const std::pair<std::string_view, const char*> names[] = {{"line ", texts.line},
                                                            {"column ", texts.column},
                                                            {"sample ", texts.sample},
                                                            {"channel ", texts.channel},
                                                            {"entry ", texts.entry_number}};
  std::vector<std::string> places;
  for (const auto& [name, put] : names) {
    const std::size_t at = text.find(name);
    if (at == std::string::npos) continue;
    const std::size_t from = at + name.size();
    const std::size_t to = std::min(text.find_first_not_of("0123456789", from), text.size());
    if (to > from) places.push_back(say(put, text.substr(from, to - from)));
  }
  return places;
}

}  // namespace

std::string refusal_text(const Error& error, const Words& words) {
  const std::string said = error.what();
  const std::string_view meaning = words.of_warning != nullptr ? words.of_warning(error.code()) : std::string_view();
  if (meaning.empty()) return said;
  std::vector<std::string> more = places_in(said, words.commands().log);
  for (std::string& each : quoted_in(said)) more.push_back(std::move(each));
  if (const std::string figures = figures_text(said, words); !figures.empty()) more.push_back(figures);
  return where_in(said) + std::string(meaning) + (more.empty() ? "" : fmt::format(" ({})", fmt::join(more, "; ")));
}

std::string meaning_text(std::string_view code, const std::string& said, const std::vector<std::string>& sensors,
                         const Words& words) {
  const std::string_view meaning = words.of_warning != nullptr ? words.of_warning(code) : std::string_view();
  if (meaning.empty()) return said;
  std::vector<std::string> named = sensors;
  std::erase_if(named, [](const std::string& name) { return name.empty() || name == "tach"; });
  const std::string figures = figures_text(said, words);
  return (named.empty() ? "" : put_in(words.sensor, fmt::format("{}", fmt::join(named, ", "))) + ": ") +
         std::string(meaning) + (figures.empty() ? "" : " (" + figures + ")");
}

std::string meaning_text(const Warning& warning, const Words& words) {
  const std::vector one{warning.sensor.value_or("")};
  return meaning_text(warning_code(warning.code), warning.message, warning.sensors.empty() ? one : warning.sensors,
                      words);
}

std::string remedy_text(std::string_view code, const std::string& said, const Words& words) {
  const std::string_view remedy = words.of_remedy != nullptr ? words.of_remedy(code) : std::string_view();
  return remedy.empty() ? said : std::string(remedy);
}

std::string warning_text(const Warning& warning, const Words& words) {
  const std::string noticed = meaning_text(warning, words);
  if (severity_of(warning.code) == Severity::note) return noticed;
  return fmt::format("{}: {}; {}", consequence_of(warning.code, words.language), noticed,
                     remedy_text(warning_code(warning.code), warning.what_to_do(), words));
}

std::string spins_text(const std::vector<std::string>& spins, const Words& words) {
  if (spins.empty()) return "";
  const InstructionWords& texts = words.instruction();
  return put_in(spins.size() > 1 ? texts.of_spins : texts.of_spin, fmt::format("{}", fmt::join(spins, "', '")));
}

namespace {

std::string line_of(const Warning& warning, const Words& words, const std::vector<std::string>& all_spins) {
  const InstructionWords& texts = words.instruction();
  const bool note = severity_of(warning.code) == Severity::note;
  constexpr std::size_t spins_named = 6;
  const std::string spins = holds_for_all(warning, all_spins)    ? texts.of_all_spins
                            : warning.spins.size() > spins_named ? say(texts.of_many_spins, warning.spins.size())
                                                                 : spins_text(warning.spins, words);
  return say(note ? texts.note : texts.warning, spins + warning_text(warning, words));
}

}  // namespace

std::vector<std::string> lines_of(const Warnings& warnings, const Words& words, const std::vector<std::string>& spins) {
  std::vector<std::string> lines;
  for (const Warning& warning : gathered(warnings)) lines.push_back(line_of(warning, words, spins));
  return lines;
}

Warnings warnings_of(const std::vector<SaidWarning>& said) {
  Warnings warnings;
  for (const SaidWarning& each : said) {
    if (const auto code = warning_code_named(each.code))
      warnings.push_back({*code, each.sensor.empty() ? std::nullopt : std::optional(each.sensor), each.message});
  }
  return warnings;
}

std::vector<std::string> lines_of(const std::vector<SaidWarning>& warnings, const Words& words) {
  std::vector<std::string> lines;
  for (const SaidWarning& said : warnings)
    if (!warning_code_named(said.code)) lines.push_back(say(words.instruction().warning, said.message));
  for (std::string& line : lines_of(warnings_of(warnings), words)) lines.push_back(std::move(line));
  return lines;
}

std::vector<std::string> lines_of(const std::vector<NoticedAt>& spins, const Words& words) {
  Warnings all;
  std::vector<std::string> labels;
  for (const NoticedAt& at : spins) {
    labels.push_back(at.spin);
    for (Warning& warning : warnings_of(at.warnings)) {
      warning.spins = {at.spin};
      all.push_back(std::move(warning));
    }
  }
  return lines_of(all, words, labels);
}

std::string cautions(const Words& words) {
  const InstructionWords& texts = words.instruction();
  const std::string margin = "\n" + std::string(std::string_view(texts.caution).size() + 2, ' ');
  return fmt::format("{}  {}\n", texts.caution, fmt::join(texts.caution_lines, margin));
}

}  // namespace counterspot
