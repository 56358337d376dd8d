#include "sheet/text.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "counterspot/log/log.hpp"
#include "counterspot/log/seal.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

std::string speed_words(double speed_rad_s) {
  return fmt::format("{:.0f} rpm", rpm(speed_rad_s));
}

}  // namespace

std::vector<std::string> wrapped(const std::string& text, std::size_t letters) {
  std::vector<std::string> lines(1);
  std::size_t used = 0;
  for (std::size_t i = 0; i < text.size();) {
    const std::size_t end = std::min(text.find(' ', i), text.size());
    const std::string word = text.substr(i, end - i);
    const auto length = static_cast<std::size_t>(std::count_if(
        word.begin(), word.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
    if (used > 0 && used + 1 + length > letters) {
      lines.emplace_back();
      used = 0;
    }
    lines.back() += (used > 0 ? " " : "") + word;
    used += length + 1;
    i = end + 1;
  }
  return lines;
}

std::vector<std::pair<std::string, std::string>> facts_of(const Sheet& sheet, const Words& words) {
  std::vector<std::pair<std::string, std::string>> facts;
  const Shaft& shaft = sheet.shaft;
  facts.emplace_back(words.shaft, shaft.id);
  facts.emplace_back(words.rig, sheet.rig.name);
  facts.emplace_back(words.opened, utc_minute(sheet.opened_unix_s));
  facts.emplace_back(words.closed, sheet.closed_unix_s ? utc_minute(*sheet.closed_unix_s) : words.not_closed);
  if (sheet.balancing_speed_rad_s) facts.emplace_back(words.balancing_speed, speed_words(*sheet.balancing_speed_rad_s));
  if (shaft.service_speed_rad_s) facts.emplace_back(words.service_speed, speed_words(*shaft.service_speed_rad_s));
  if (shaft.mass_kg) facts.emplace_back(words.mass, number_text(*shaft.mass_kg, 2, words) + " kg");
  if (shaft.tube) {
    facts.emplace_back(
        words.tube, with_decimal_sign(fmt::format("{:.1f} × {:.1f} × {:.0f} mm", shaft.tube->outside_diameter_m * 1e3,
                                                  shaft.tube->wall_m * 1e3, shaft.tube->length_m * 1e3),
                                      words));
  }
  facts.emplace_back(words.grade, sheet.limits.grade.empty() ? words.limits_typed : sheet.limits.grade);
  facts.emplace_back(words.spins, std::to_string(sheet.spins.size()));
  return facts;
}

std::string place_text(const HeldPlace& place, const Words& words) {
  switch (place.kind) {
    case HeldPlace::Kind::plane: return put_in(words.plane, place.name);
    case HeldPlace::Kind::support: return put_in(words.support, place.name);
    case HeldPlace::Kind::mode: return put_in(words.mode, place.name);
  }
  return place.name;
}

std::vector<Row> places_table(const Sheet& sheet, const Words& words) {
  std::vector<Row> rows{{words.place, std::string(words.as_found_column) + ", g·mm",
                         std::string(words.residual) + ", g·mm", std::string(words.limit) + ", g·mm", words.verdict}};
  for (const auto& [held, as_found_kg_m] : sheet.places) {
    rows.push_back({place_text(held.place, words), as_found_kg_m ? fmt::format("{:.0f}", in_g_mm(*as_found_kg_m)) : "–",
                    measured_text(in_g_mm(held.residual_kg_m), in_g_mm(coverage_factor * held.u_residual_kg_m), words),
                    fmt::format("{:.0f}", in_g_mm(held.limit_kg_m)), verdict_text(held.verdict, words)});
  }
  return rows;
}

std::vector<Row> pieces_table(const Sheet& sheet, const Words& words, UnitSystem units) {
  std::vector<Row> rows{
      {"", put_in(words.plane, ""), words.piece_mass, words.clock, words.tape, words.shaft_angle, words.radius}};
  for (const SheetPiece& piece : sheet.pieces) {
    const double kg = piece.weight.mass_kg;
    std::string tape = "–";
    if (piece.spot.arc) {
      const bool with = piece.spot.arc->direction == ArcDirection::with_rotation;
      tape = with_decimal_sign(tape_text(piece.spot.arc->length_m, units), words) + ", " +
             (with ? words.with_rotation : words.against_rotation);
    }
    rows.push_back(
        {std::to_string(piece.number), piece.plane,
         with_decimal_sign(mass_text(std::abs(kg), units), words) + (kg < 0.0 ? std::string(", ") + words.removed : ""),
         piece.spot.clock.text(), tape, number_text(degrees(piece.spot.angle_rad), 1, words) + " deg",
         number_text(piece.weight.radius_m * 1e3, 1, words) + " mm"});
  }
  return rows;
}

std::string verdict_words(const Sheet& sheet, const Words& words) {
  return sheet.verdict ? verdict_text(*sheet.verdict, words) : words.no_final;
}

std::vector<std::string> rule_words(const Sheet& sheet, const Words& words) {
  std::vector<std::string> sentences;
  for (const SaidReason& reason : sheet.held_back)
    sentences.push_back(put_in(words.in_doubt, meaning_text(reason.code, reason.message, reason.sensors, words)));
  sentences.emplace_back(words.verdict_by);
  const bool known = std::all_of(sheet.places.begin(), sheet.places.end(),
                                 [](const SheetPlace& place) { return place.held.u_residual_kg_m > 0.0; });
  std::string second = known ? words.ninety_five : words.no_uncertainty;
  if (sheet.used_prior) second += std::string("; ") + words.used_prior;
  if (sheet.rig_taught_by > 0) {
    std::string shafts = std::to_string(sheet.rig_taught_by);
    if (sheet.brought_in > 0) shafts = put_in(words.of_them_brought_in, shafts) + std::to_string(sheet.brought_in);
    second += "; " + put_in(words.corrected_from_rig, shafts);
  }
  if (!sheet.closed_unix_s) second += std::string("; ") + words.not_closed;
  sentences.push_back(second);
  return sentences;
}

namespace {

/// "A 35.7 g, 8:55, 267.4 deg; B …".
std::string fit_words(const std::vector<SheetPiece>& pieces, const Words& words, UnitSystem units) {
  std::string text;
  for (const SheetPiece& piece : pieces) {
    text += fmt::format("{}{} {}, {}, {} deg", text.empty() ? "" : "; ", piece.plane,
                        with_decimal_sign(mass_text(piece.weight.mass_kg, units), words), piece.spot.clock.text(),
                        number_text(degrees(piece.spot.angle_rad), 1, words));
  }
  return text.empty() ? words.no_pieces : text;
}

/// The two choices where trial weights are on, the usual one first.
std::vector<std::string> next_fit_words(const Sheet& sheet, const Words& words, UnitSystem units) {
  if (sheet.to_fit.empty() && sheet.to_fit_bare.empty()) return {};
  const std::string on_top = fit_words(sheet.to_fit, words, units);
  if (!sheet.trials_on) return {put_in(words.to_fit_next, on_top)};
  return {put_in(words.to_fit_bare, fit_words(sheet.to_fit_bare, words, units)), put_in(words.to_fit_on_top, on_top)};
}

}  // namespace

std::vector<std::string> notes_of(const Sheet& sheet, const Words& words, UnitSystem units) {
  std::vector<std::string> notes = next_fit_words(sheet, words, units);
  if (sheet.taken_back > 0) notes.push_back(put_in(words.of_which_taken_back, std::to_string(sheet.taken_back)));
  for (const SheetNote& note : sheet.notes) {
    const std::string text = meaning_text(note.code, note.said, {note.sensor}, words);  // a person's own as it is
    if (std::find(notes.begin(), notes.end(), text) == notes.end()) notes.push_back(text);
  }
  return notes;
}

std::string spin_words(const SheetSpin& spin, const Words& words) {
  return fmt::format("{}  {}   {}", spin.number, spin.label, spin.file.empty() ? words.typed_in : spin.file);
}

std::string seal_words(const Sheet& sheet, const Words& words) {
  const auto said = [](const char* text, std::int64_t number, const std::string& sha256) {
    return put_in(put_in(text, std::to_string(number)).c_str(), seal_code(sha256));
  };
  if (sheet.seal.empty()) return {};
  const std::string seal = said(words.seal, sheet.entries, sheet.seal);
  return sheet.link ? seal + "; " + said(words.link, sheet.link->number, sheet.link->sha256) : seal;
}

}  // namespace counterspot
