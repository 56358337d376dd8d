#include "sheet/text.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "counterspot/log/log.hpp"
#include "counterspot/log/seal.hpp"
#include "counterspot/log/signature.hpp"
#include "counterspot/tolerance/held_text.hpp"
#include "counterspot/units/measured.hpp"
#include "counterspot/units/units.hpp"
#include "report/job_text.hpp"
#include "report/order_text.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

std::size_t letters_in(std::string_view text) {
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

/// How many bytes the first so many letters take.
std::size_t bytes_of(std::string_view text, std::size_t letters) {
  std::size_t at = 0;
  for (; letters > 0 && at < text.size(); --letters) do
      ++at;
    while (at < text.size() && (static_cast<unsigned char>(text[at]) & 0xC0U) == 0x80U);
  return at;
}

std::string speed_words(double speed_rad_s, const Words& words) {
  return fmt::format("{:.0f}{}", rpm(speed_rad_s), words.rpm);
}

std::string angle_words(double angle_rad, const Words& words) {
  return number_text(degrees(angle_rad), 1, words) + words.degree;
}

double in_length_unit(double length_m, UnitSystem units) {
  return units == UnitSystem::metric ? length_m * 1e3 : length_m / m_per_in;
}
const char* length_unit(UnitSystem units) {
  return units == UnitSystem::metric ? " mm" : " in";
}
std::string length_words(double length_m, UnitSystem units, const Words& words, int metric_decimals = 1) {
  const int decimals = units == UnitSystem::metric ? metric_decimals : 3;
  return number_text(in_length_unit(length_m, units), decimals, words) + length_unit(units);
}

std::string mass_words(double mass_kg, UnitSystem units, const Words& words) {
  return units == UnitSystem::metric ? number_text(mass_kg, 2, words) + " kg"
                                     : number_text(mass_kg / (16.0 * kg_per_oz), 2, words) + " lb";
}

std::string tube_words(const Tube& tube, UnitSystem units, const Words& words) {
  const auto size = [&](double length_m, int metric_decimals) {
    return number_text(in_length_unit(length_m, units), units == UnitSystem::metric ? metric_decimals : 3, words);
  };
  return fmt::format("{} × {} × {}{}", size(tube.outside_diameter_m, 1), size(tube.wall_m, 1), size(tube.length_m, 0),
                     length_unit(units));
}

std::string positions_of_planes(const Shaft& shaft, UnitSystem units, const Words& words) {
  std::string text;
  for (const Plane& plane : shaft.planes)
    text += (text.empty() ? "" : ", ") + plane.name + " " + length_words(plane.position_m, units, words, 0);
  return text;
}

std::string positions_of_supports(const Supports& supports, UnitSystem units, const Words& words) {
  const auto at = [&](Support support, double position_m) {
    return std::string(support_name(support)) + " " + length_words(position_m, units, words, 0);
  };
  return at(Support::a, supports.a_m) + ", " + at(Support::b, supports.b_m) +
         (supports.c_m ? ", " + at(Support::c, *supports.c_m) : "");
}

std::string qualification_words(const Sheet& sheet, UnitSystem units, const Words& words) {
  if (!sheet.qualification) return words.not_qualified;
  const auto& [at_unix_s, reference_shaft, umar_kg_m] = *sheet.qualification;
  const auto size = [&](double kg_m) { return with_decimal_sign(unbalance_text(kg_m, units), words); };
  return put_in(words.umar, utc_day(at_unix_s)) + "A " + size(umar_kg_m[0]) + ", B " + size(umar_kg_m[1]);
}

/// U_per, and e_per where it is known.
std::string permissible_words(const Limits& limits, UnitSystem units, const Words& words) {
  std::string text = unbalance_text(*limits.total_kg_m, units);
  if (limits.specific_m) {
    const bool metric = units == UnitSystem::metric;
    text +=
        ", " + significant_text(*limits.specific_m / (metric ? 1e-6 : 1e-3 * m_per_in), 3) + (metric ? " µm" : " mil");
  }
  return with_decimal_sign(text, words);
}

/// Where the coefficients came from that the final residual rests on.
std::string coefficients_words(const Sheet& sheet, const Words& words) {
  if (!sheet.verdict) return "–";
  return sheet.used_prior ? words.used_prior : words.own_coefficients;
}

void add_order(std::vector<Fact>& facts, const WorkOrder& order, const Words& words) {
  for (auto& [name, value] : named_fields(order, words))
    if (name != words.set_by) facts.emplace_back(name, value);  // that stands with the limits
}

void add_shaft(std::vector<Fact>& facts, const Shaft& shaft, const Words& words, UnitSystem units) {
  facts.emplace_back(words.shaft, shaft.id);
  if (shaft.mass_kg) facts.emplace_back(words.mass, mass_words(*shaft.mass_kg, units, words));
  if (shaft.tube) facts.emplace_back(words.tube, tube_words(*shaft.tube, units, words));
  facts.emplace_back(words.planes_at, positions_of_planes(shaft, units, words));
  if (shaft.supports) facts.emplace_back(words.supports_at, positions_of_supports(*shaft.supports, units, words));
  if (shaft.service_speed_rad_s)
    facts.emplace_back(words.service_speed, speed_words(*shaft.service_speed_rad_s, words));
}

void add_limits(std::vector<Fact>& facts, const Sheet& sheet, const Words& words, UnitSystem units) {
  if (sheet.limits.grade.empty()) {
    facts.emplace_back(words.set_by, sheet.order.limits_by);
  } else {
    facts.emplace_back(words.grade, sheet.limits.grade);
  }
  if (sheet.limits.total_kg_m) facts.emplace_back(words.permissible, permissible_words(sheet.limits, units, words));
}

}  // namespace

std::vector<std::string> wrapped(const std::string& text, std::size_t letters) {
  std::vector<std::string> lines(1);
  std::size_t used = 0;
  for (std::size_t i = 0; i < text.size();) {
    std::string_view word = std::string_view(text).substr(i, text.find(' ', i) - i);
    i += word.size() + 1;
    if (used > 0 && used + 1 + letters_in(word) > letters) {
      lines.emplace_back();
      used = 0;
    }
    while (used == 0 && letters_in(word) > letters) {
      lines.back() = word.substr(0, bytes_of(word, letters));
      word.remove_prefix(lines.back().size());
      lines.emplace_back();
    }
    lines.back() += (used > 0 ? " " : "") + std::string(word);
    used += letters_in(word) + (used > 0 ? 1 : 0);
  }
  return lines;
}

std::vector<Fact> facts_of(const Sheet& sheet, const Words& words, UnitSystem units) {
  std::vector<Fact> facts;
  add_order(facts, sheet.order, words);
  add_shaft(facts, sheet.shaft, words, units);
  add_limits(facts, sheet, words, units);
  facts.emplace_back(words.rig, sheet.rig.name);
  facts.emplace_back(words.qualified, qualification_words(sheet, units, words));
  facts.emplace_back(words.rotation,
                     put_in(sheet.rig.rotation == Rotation::clockwise ? words.clockwise : words.counter_clockwise,
                            sheet.rig.viewing_end));
  if (sheet.balancing_speed_rad_s)
    facts.emplace_back(words.balancing_speed, speed_words(*sheet.balancing_speed_rad_s, words));
  facts.emplace_back(words.coefficients, coefficients_words(sheet, words));
  facts.emplace_back(words.opened, utc_minute(sheet.opened_unix_s));
  facts.emplace_back(words.closed, sheet.closed_unix_s ? utc_minute(*sheet.closed_unix_s) : words.not_closed);
  facts.emplace_back(words.spins, std::to_string(sheet.spins.size()));
  return facts;
}

std::string place_text(const HeldPlace& place, const Words& words) {
  return place.kind == HeldPlace::Kind::plane ? put_in(words.plane, place.name) : held_place_text(place, words);
}

namespace {

/// "138.4 deg  4:37"; nothing is said of an unbalance that is not told from nothing.
std::string spot_words(const std::optional<double>& angle_rad, const Sheet& sheet, const Words& words) {
  if (!angle_rad) return "–";
  return fmt::format("{}  {}", angle_words(*angle_rad, words), clock_position(*angle_rad, sheet.rig.rotation).text());
}

}  // namespace

std::vector<Row> places_table(const Sheet& sheet, const Words& words, UnitSystem units) {
  const auto with_unit = [&](const char* name) { return fmt::format("{}, {}", name, unbalance_unit(units)); };
  std::vector<Row> rows{{words.place, with_unit(words.as_found_column), words.at, with_unit(words.residual), words.at,
                         with_unit(words.limit), words.verdict}};
  for (const auto& [held, as_found, angle_rad] : sheet.places) {
    const HeldText shown = held_text(held, units);
    const std::string first = as_found ? measured_text(unbalance_in(units, as_found->unbalance_kg_m),
                                                       coverage_factor * unbalance_in(units, as_found->u_kg_m), words)
                                       : "–";
    rows.push_back({place_text(held.place, words), first,
                    as_found ? spot_words(as_found->angle_rad, sheet, words) : "–",
                    with_decimal_sign(shown.residual, words), spot_words(angle_rad, sheet, words),
                    with_decimal_sign(shown.limit, words), verdict_text(held.verdict, words)});
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
      tape = with_decimal_sign(tape_text(piece.spot.arc->length_m, units), words);
      if (tape != tape_text(0.0, units))
        tape += std::string(", ") + (with ? words.with_rotation : words.against_rotation);
    }
    rows.push_back(
        {std::to_string(piece.number), piece.plane,
         with_decimal_sign(mass_text(std::abs(kg), units), words) + (kg < 0.0 ? std::string(", ") + words.removed : ""),
         piece.spot.clock.text(), tape, angle_words(piece.spot.angle_rad, words),
         length_words(piece.weight.radius_m, units, words)});
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
  if (!sheet.places.empty())
    sentences.push_back(
        sheet.limits.grade.empty()
            ? put_in(words.limits_set_by, sheet.order.limits_by.empty() ? ".................." : sheet.order.limits_by)
            : put_in(words.limits_by_grade, sheet.limits.grade));
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
    text += fmt::format("{}{} {}, {}, {}", text.empty() ? "" : "; ", piece.plane,
                        with_decimal_sign(mass_text(piece.weight.mass_kg, units), words), piece.spot.clock.text(),
                        angle_words(piece.spot.angle_rad, words));
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

std::string off_again_words(const Sheet& sheet, const Words& words, UnitSystem units) {
  return sheet.trials.empty() ? "" : put_in(words.off_again, fit_words(sheet.trials, words, units));
}

std::string sheet_in_a_sentence(const Sheet& sheet, const Words& words) {
  return fmt::format("{} {}, {}: {}", words.shaft, sheet.shaft.id, words.verdict, verdict_words(sheet, words));
}

std::vector<std::string> notes_of(const Sheet& sheet, const Words& words, UnitSystem units) {
  std::vector<std::string> notes = next_fit_words(sheet, words, units);
  for (const Event& event : sheet.signatures) {
    const auto& made = std::get<Signed>(event.what);
    notes.push_back(say(words.signed_by, made.by, utc_minute(event.at_unix_s), key_code(made.public_key)));
  }
  for (const Event& event : sheet.ordered_after_close) {
    const auto said = lines_of(std::get<Ordered>(event.what).order, words);
    notes.push_back(say(words.said_after_close, utc_minute(event.at_unix_s), event.number,
                        fmt::format("{}", fmt::join(said, "; "))));
  }
  if (sheet.taken_back > 0) notes.push_back(put_in(words.of_which_taken_back, std::to_string(sheet.taken_back)));
  std::vector<SaidWarning> noticed;
  for (const SheetNote& note : sheet.notes)
    note.code.empty() ? notes.push_back(note.said) : noticed.push_back({note.code, note.sensor, note.said});
  for (std::string& line : lines_of(noticed, words)) notes.push_back(std::move(line));
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
