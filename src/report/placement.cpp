#include "report/placement.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "counterspot/drawing/command_words.hpp"
#include "counterspot/shaft/trial.hpp"
#include "report/job_text.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

std::optional<double> pull_of(const Placed& placed, const ShownPlans& shown) {
  if (!shown.solution.speed_rad_s || placed.piece.acting_kg <= 0.0) return std::nullopt;
  return pull_N(placed.piece.acting_kg, placed.radius_m, *shown.solution.speed_rad_s);
}

const char* way_name(Way way) {
  switch (way) {
    case Way::weld: return "weld";
    case Way::clamp: return "clamp";
    case Way::grind: return "grind";
    case Way::drill: return "drill";
  }
  return "";
}

Json json_of(const Placed& placed, const ShownPlans& shown) {
  const auto pull = pull_of(placed, shown);
  Json piece = {{"plane", shown.plane(placed.plane)},
                {"kind", shown.stock.kinds[static_cast<std::size_t>(placed.piece.kind)].name},
                {"way", way_name(placed.piece.way)},
                {"weighed_g", placed.piece.weighed_kg * 1e3},
                {"acting_g", placed.piece.acting_kg * 1e3},
                {"length_mm", placed.piece.length_m > 0.0 ? Json(placed.piece.length_m * 1e3) : Json(nullptr)},
                {"radius_mm", placed.radius_m * 1e3},
                {"pull_n", or_null(pull)},
                {"work", work_text(shown.stock, placed.piece, shown.units)},
                {"place", spot_text(shown.spot(placed.angle_rad), shown.units)}};
  piece.update(json_of(shown.spot(placed.angle_rad)));
  return piece;
}

Json json_of(const std::vector<Placed>& placed, const ShownPlans& shown) {
  Json list = Json::array();
  for (const Placed& each : placed) list.push_back(json_of(each, shown));
  return list;
}

Json predicted_json(const std::vector<Phasor>& predicted, const Aim& aim) {
  Json held = Json::array();
  for (std::size_t i = 0; i < aim.size(); ++i) {
    held.push_back({{"place", aim[i].place.text()},
                    {"limit_gmm", in_g_mm(aim[i].limit)},
                    {"present_gmm", in_g_mm(std::abs(aim[i].present))},
                    {"predicted_gmm", in_g_mm(std::abs(predicted[i]))}});
  }
  return held;
}

Json json_of(const FittingSummary& fitting, const ShownPlans& shown) {
  return {{"status", fitting.status == FittingStatus::optimal ? "optimal" : "out_of_time"},
          {"worst_ratio", fitting.worst_ratio},
          {"bound_ratio", fitting.bound_ratio},
          {"fixed_ratio", fitting.fixed_ratio},
          {"weighed_g", fitting.weighed_kg * 1e3},
          {"looked_at", fitting.looked_at},
          {"pieces", json_of(fitting.placed, shown)},
          {"held", predicted_json(fitting.predicted, shown.correction.aim)}};
}

Json json_of(const Plan& plan, const ShownPlans& shown) {
  Json slides = Json::array();
  for (const Slide& slide : plan.slides) {
    slides.push_back({{"from", json_of(shown.on_shaft()[slide.fitted], shown.set.shaft)},
                      {"to", json_of(shown.spot(slide.to_rad))}});
  }
  Json taken_off = Json::array();
  for (std::size_t i : plan.taken_off) taken_off.push_back(json_of(shown.on_shaft()[i], shown.set.shaft));
  return {{"effort", effort_name(plan.effort)},
          {"worst_ratio", plan.worst_ratio},
          {"slides", slides},
          {"taken_off", taken_off},
          {"added", json_of(plan.added, shown)},
          {"held", predicted_json(plan.predicted, shown.correction.aim)}};
}

const CommandWords& texts_of(const ShownPlans& shown) {
  return shown.words.commands();
}

std::string whole(double value, const ShownPlans& shown) {
  return number_text(value, 0, shown.words);
}

std::string decimal(const std::string& text, const ShownPlans& shown) {
  return with_decimal_sign(text, shown.words);
}

/// "4:37, 37 mm by tape against rotation from the mark, …".
std::string spot_in(const Spot& spot, const ShownPlans& shown) {
  return spot.clock.text() + ", " + tape_and_angle_text(spot, shown.units, shown.words);
}

std::string piece_lines(const Placed& placed, const ShownPlans& shown) {
  const CommandWords& texts = texts_of(shown);
  std::string text = fmt::format("  {}  {}\n", shown.plane(placed.plane),
                                 decimal(work_text(shown.stock, placed.piece, shown.units, texts.work), shown)) +
                     say(texts.at_spot, spot_in(shown.spot(placed.angle_rad), shown));
  if (const auto pull = pull_of(placed, shown))
    text += say(texts.pulls, decimal(force_text(*pull, shown.units), shown));
  return text;
}

/// "plane A", "support A", "mode 1".
std::string place_in(const HeldPlace& place, const ShownPlans& shown) {
  return place.kind == HeldPlace::Kind::plane ? put_in(texts_of(shown).plane_named, place.name)
                                              : held_place_text(place, shown.words);
}

std::string held_lines(const std::vector<Phasor>& predicted, const ShownPlans& shown) {
  const Aim& aim = shown.correction.aim;
  std::string text;
  for (std::size_t i = 0; i < aim.size(); ++i) {
    text += say(texts_of(shown).held, place_in(aim[i].place, shown), whole(in_g_mm(std::abs(aim[i].present)), shown),
                whole(in_g_mm(std::abs(predicted[i])), shown), whole(in_g_mm(aim[i].limit), shown));
  }
  return text;
}

double worst_of(const FittingSummary& fitting) {
  return std::max(fitting.worst_ratio, fitting.fixed_ratio);
}

/// Of a limit: whole percent, or two digits where that would say nothing.
std::string percent(double ratio) {
  if (ratio < 5e-5) return "0 %";
  return 100.0 * ratio < 9.95 ? fmt::format("{:.2g} %", 100.0 * ratio) : fmt::format("{:.0f} %", 100.0 * ratio);
}

std::string of_a_limit(double ratio, const ShownPlans& shown) {
  return put_in(texts_of(shown).of_a_limit, decimal(percent(ratio), shown));
}

std::string whole_of_a_limit(double ratio, const ShownPlans& shown) {
  return put_in(texts_of(shown).of_a_limit, whole(100.0 * ratio, shown) + " %");
}

std::string counted(std::size_t pieces, const ShownPlans& shown) {
  const CommandWords& texts = texts_of(shown);
  return pieces == 1 ? std::string(texts.one_piece) : say(texts.pieces, pieces);
}

std::string text_of(const FittingSummary& fitting, const std::string& heading, const ShownPlans& shown) {
  const CommandWords& texts = texts_of(shown);
  std::string text = heading + "\n";
  for (const Placed& placed : fitting.placed) text += piece_lines(placed, shown);
  if (fitting.placed.empty()) text += texts.no_piece;
  text += held_lines(fitting.predicted, shown);
  const std::string worst = of_a_limit(worst_of(fitting), shown);
  return text + (fitting.status == FittingStatus::optimal
                     ? say(texts.proven, worst)
                     : say(texts.not_proven, worst, decimal(percent(fitting.bound_ratio), shown)));
}

std::string fewer_text(const ShownPlans& shown) {
  const auto& fewer = shown.correction.fewer;
  if (!fewer) return "";
  return text_of(
      *fewer,
      say(texts_of(shown).or_with, counted(fewer->placed.size(), shown), shown.correction.fitting.placed.size()),
      shown);
}

constexpr double cost_worth_a_word = 0.1;  // of a limit

/// What the closed planes cost, at every place that is worse off for them.
std::string closed_text(const ShownPlans& shown) {
  const Correction& correction = shown.correction;
  const CommandWords& texts = texts_of(shown);
  if (!correction.if_open) return "";
  std::string text = say(texts.closed_plane, fmt::join(correction.closed, ", "));
  bool costs = false;
  for (std::size_t i = 0; i < correction.aim.size(); ++i) {
    const AimRow& row = correction.aim[i];
    const double closed = std::abs(correction.fitting.predicted[i]);
    const double open = std::abs(correction.if_open->predicted[i]);
    if (closed - open < cost_worth_a_word * row.limit) continue;
    costs = true;
    text += say(texts.keeps, place_in(row.place, shown), whole(in_g_mm(closed), shown),
                whole(100.0 * closed / row.limit, shown), whole(in_g_mm(open), shown),
                whole(100.0 * open / row.limit, shown));
  }
  if (!costs) return text + texts.costs_nothing;
  return text + say(texts.if_open, whole(100.0 * worst_of(*correction.if_open), shown),
                    whole(100.0 * worst_of(correction.fitting), shown),
                    counted(correction.if_open->placed.size(), shown));
}

const char* effort_text(Effort effort, const CommandWords& texts) {
  switch (effort) {
    case Effort::slide_one: return texts.slide_one;
    case Effort::slide_two: return texts.slide_two;
    case Effort::swap_one: return texts.swap_one;
    case Effort::add_one: return texts.add_one;
  }
  return "";
}

std::string text_of(const Plan& plan, const ShownPlans& shown) {
  const CommandWords& texts = texts_of(shown);
  std::string text = say(texts.effort, effort_text(plan.effort, texts), whole_of_a_limit(plan.worst_ratio, shown));
  const auto mass = [&](const FittedWeight& weight) { return decimal(mass_text(weight.mass_kg, shown.units), shown); };
  const auto clock = [&](const FittedWeight& weight) { return shown.spot(weight.angle_rad).clock.text(); };
  for (const Slide& slide : plan.slides) {
    const FittedWeight& weight = shown.on_shaft()[slide.fitted];
    text += say(texts.slide, shown.plane(weight.plane), mass(weight), clock(weight),
                spot_in(shown.spot(slide.to_rad), shown));
  }
  for (std::size_t i : plan.taken_off) {
    const FittedWeight& weight = shown.on_shaft()[i];
    text += say(texts.take_off, shown.plane(weight.plane), mass(weight), clock(weight));
  }
  for (const Placed& placed : plan.added) text += piece_lines(placed, shown);
  return text;
}

}  // namespace

Json document_of(const ShownPlans& shown) {
  const Correction& correction = shown.correction;
  Json plans = Json::array();
  for (const Plan& plan : correction.plans) plans.push_back(json_of(plan, shown));
  Json document = {{"shaft", shown.set.shaft.id},
                   {"speed_rpm", rpm_or_null(shown.solution.speed_rad_s)},
                   {"end", shown.end},
                   {"verdict", verdict_name(shown.solution.judgement.verdict)}};
  document.update(json_of(correction.fitting, shown));
  document["fewer_pieces"] = correction.fewer ? json_of(*correction.fewer, shown) : Json(nullptr);
  document["closed_planes"] = correction.closed;
  document["if_open"] = correction.if_open ? json_of(*correction.if_open, shown) : Json(nullptr);
  document["plans"] = plans;
  document["gathered"] = correction.gathered ? json_of(*correction.gathered, shown) : Json(nullptr);
  document["left_out"] = correction.left_out;
  document["warnings"] = json_of(shown.solution.warnings);
  return document;
}

std::string text_of(const ShownPlans& shown) {
  const Correction& correction = shown.correction;
  const CommandWords& texts = texts_of(shown);
  std::string text = say(texts.place_head, shown.set.shaft.id, shown.stock.name, say(texts.mark_on_clock, shown.end));
  const double now = worst_ratio(correction.aim, std::vector<Phasor>(shown.set.shaft.planes.size(), 0.0));
  text +=
      say(texts.now_worst, verdict_text(shown.solution.judgement.verdict, shown.words), whole_of_a_limit(now, shown));
  if (!correction.plans.empty()) {
    text += texts.with_what_is_on;
    for (const Plan& plan : correction.plans) text += text_of(plan, shown);
    text += "\n";
  }
  text += text_of(correction.fitting, texts.fit_on_top, shown);
  text += fewer_text(shown) + closed_text(shown);
  if (correction.gathered) text += text_of(*correction.gathered, texts.gather, shown);
  for (const std::string& kind : correction.left_out) text += say(texts.left_out, kind);
  return text + say(texts.next, texts.fit_weigh_and_tape) + "\n" + cautions(shown.words);
}

}  // namespace counterspot
