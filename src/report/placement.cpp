#include "report/placement.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "counterspot/shaft/trial.hpp"
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

std::string piece_lines(const Placed& placed, const ShownPlans& shown) {
  std::string text = fmt::format("  {}  {}\n     at {}\n", shown.plane(placed.plane),
                                 work_text(shown.stock, placed.piece, shown.units),
                                 spot_text(shown.spot(placed.angle_rad), shown.units));
  if (const auto pull = pull_of(placed, shown))
    text += fmt::format("     it pulls with {} at balancing speed\n", force_text(*pull, shown.units));
  return text;
}

std::string held_lines(const std::vector<Phasor>& predicted, const Aim& aim) {
  std::string text;
  for (std::size_t i = 0; i < aim.size(); ++i) {
    text += fmt::format("  {:<16} now {:>5.0f}   expected {:>5.0f}   limit {:>5.0f} g·mm\n", aim[i].place.with_kind(),
                        in_g_mm(std::abs(aim[i].present)), in_g_mm(std::abs(predicted[i])), in_g_mm(aim[i].limit));
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

std::string counted(std::size_t pieces) {
  return pieces == 1 ? "1 piece" : fmt::format("{} pieces", pieces);
}

std::string text_of(const FittingSummary& fitting, const std::string& heading, const ShownPlans& shown) {
  std::string text = heading;
  text += "\n";
  for (const Placed& placed : fitting.placed) text += piece_lines(placed, shown);
  if (fitting.placed.empty()) text += "  nothing: no piece makes it better\n";
  text += held_lines(fitting.predicted, shown.correction.aim);
  return text +
         (fitting.status == FittingStatus::optimal
              ? fmt::format("  worst {} of a limit; proven: no other choice is better\n\n", percent(worst_of(fitting)))
              : fmt::format("  worst {} of a limit; not proven in the time allowed: the best there is lies between {} "
                            "and this\n\n",
                            percent(worst_of(fitting)), percent(fitting.bound_ratio)));
}

std::string fewer_text(const ShownPlans& shown) {
  const auto& fewer = shown.correction.fewer;
  if (!fewer) return "";
  return text_of(
      *fewer,
      fmt::format("OR WITH {} instead of {}: as good on the shaft, where setting to 1 % and 1 deg leaves more "
                  "than the difference",
                  counted(fewer->placed.size()), shown.correction.fitting.placed.size()),
      shown);
}

constexpr double cost_worth_a_word = 0.1;  // of a limit

/// What the closed planes cost, at every place that is worse off for them.
std::string closed_text(const ShownPlans& shown) {
  const Correction& correction = shown.correction;
  if (!correction.if_open) return "";
  std::string text = fmt::format("CLOSED PLANE {}  what that costs\n", fmt::join(correction.closed, ", "));
  bool costs = false;
  for (std::size_t i = 0; i < correction.aim.size(); ++i) {
    const AimRow& row = correction.aim[i];
    const double closed = std::abs(correction.fitting.predicted[i]);
    const double open = std::abs(correction.if_open->predicted[i]);
    if (closed - open < cost_worth_a_word * row.limit) continue;
    costs = true;
    text += fmt::format("  {} keeps {:.0f} g·mm, {:.0f} % of its limit; open, it would come to {:.0f} g·mm, {:.0f} %\n",
                        row.place.with_kind(), in_g_mm(closed), 100.0 * closed / row.limit, in_g_mm(open),
                        100.0 * open / row.limit);
  }
  if (!costs) return text + "  nothing: the other planes do as well without it\n\n";
  return text + fmt::format("  open, the worst would be {:.0f} % of a limit instead of {:.0f} %, with {}\n\n",
                            100.0 * worst_of(*correction.if_open), 100.0 * worst_of(correction.fitting),
                            counted(correction.if_open->placed.size()));
}

std::string text_of(const Plan& plan, const ShownPlans& shown) {
  std::string text =
      fmt::format("{:<10} worst {:.0f} % of a limit\n", effort_name(plan.effort), 100.0 * plan.worst_ratio);
  for (const Slide& slide : plan.slides) {
    const FittedWeight& weight = shown.on_shaft()[slide.fitted];
    text += fmt::format("  {}  slide {} from {} to\n     {}\n", shown.plane(weight.plane),
                        mass_text(weight.mass_kg, shown.units), shown.spot(weight.angle_rad).clock.text(),
                        spot_text(shown.spot(slide.to_rad), shown.units));
  }
  for (std::size_t i : plan.taken_off) {
    const FittedWeight& weight = shown.on_shaft()[i];
    text += fmt::format("  {}  take off {} at {}\n", shown.plane(weight.plane), mass_text(weight.mass_kg, shown.units),
                        shown.spot(weight.angle_rad).clock.text());
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
  std::string text = fmt::format("SHAFT {}   {}   clock seen from end {}, the mark at 12:00\n\n", shown.set.shaft.id,
                                 shown.stock.name, shown.end);
  text += fmt::format("NOW  {}, worst {:.0f} % of a limit\n\n", verdict_name(shown.solution.judgement.verdict),
                      100.0 * worst_ratio(correction.aim, std::vector<Phasor>(shown.set.shaft.planes.size(), 0.0)));
  if (!correction.plans.empty()) {
    text += "WITH WHAT IS ON THE SHAFT, least effort first\n";
    for (const Plan& plan : correction.plans) text += text_of(plan, shown);
    text += "\n";
  }
  text += text_of(correction.fitting, "FIT, on top of what is on the shaft", shown);
  text += fewer_text(shown) + closed_text(shown);
  if (correction.gathered)
    text += text_of(*correction.gathered, "GATHER the weights of the plane into one welded piece", shown);
  for (const std::string& kind : correction.left_out)
    text += fmt::format("LEFT OUT  {}: a lump would pull harder at balancing speed than its clamp is stated to hold\n",
                        kind);
  return text +
         "NEXT  Fit, weigh and tape what you fitted, spin again, and add that spin with what is really on the "
         "shaft.\n\n" +
         cautions();
}

}  // namespace counterspot
