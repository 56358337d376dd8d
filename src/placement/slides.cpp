#include "counterspot/placement/slides.hpp"

#include <algorithm>
#include <cmath>

#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

constexpr double just_as_good = 1e-9;  // of the limit: then the shorter way wins
// Of a limit: what setting a usual correction leaves. A plan that betters what is on, or the plan before it, by less is
// not shown.
constexpr double worth_the_effort = 0.05;
// Twice the 1 deg to which a piece is usually set (common practice, no source): less is no move.
constexpr double least_slide_rad = radians(2.0) - 1e-9;

/// The rows, divided by their limits, so that changes are added up and compared quickly.
struct Rows {
  const Aim& aim;
  std::vector<Phasor> now;

  explicit Rows(const Aim& rows) : aim(rows) {
    for (const AimRow& row : aim) now.push_back(row.present / row.limit);
  }
  double worst(int plane, const Phasor& change, const std::vector<Phasor>& from, double enough) const {
    double worst = 0.0;
    for (std::size_t i = 0; i < from.size() && worst < enough; ++i)
      worst = std::max(worst, std::abs(from[i] + effect(i, plane) * change));
    return worst;
  }
  std::vector<Phasor> changed(int plane, const Phasor& change, const std::vector<Phasor>& from) const {
    std::vector<Phasor> rows = from;
    for (std::size_t i = 0; i < rows.size(); ++i) rows[i] += effect(i, plane) * change;
    return rows;
  }
  Phasor effect(std::size_t row, int plane) const {
    return aim[row].effect[static_cast<std::size_t>(plane)] / aim[row].limit;
  }
};

class Planner {
 public:
  Planner(const Shaft& shaft, const Stock& stock, const Aim& aim, const std::vector<FittedWeight>& on_shaft,
          double step_rad)
      : shaft_(shaft),
        stock_(stock),
        rows_(aim),
        on_shaft_(on_shaft),
        step_rad_(step_rad),
        pieces_(pieces_of(stock)),
        empty_(sites_of(shaft, stock, {}, step_rad)) {
    for (const AimRow& row : aim) as_is_ = std::max(as_is_, std::abs(row.present) / row.limit);
  }

  std::vector<Plan> run() {
    std::vector<Plan> plans;
    double best_before = as_is_;
    for (Effort effort : {Effort::slide_one, Effort::slide_two, Effort::swap_one, Effort::add_one}) {
      best_ = Plan{effort, {}, {}, {}, as_is_, {}};
      travel_rad_ = INFINITY;
      look(effort);
      if (best_.slides.empty() && best_.added.empty()) continue;
      finish(best_);
      if (best_.worst_ratio > best_before - worth_the_effort) continue;
      best_before = best_.worst_ratio;
      plans.push_back(best_);
    }
    return plans;
  }

 private:
  void look(Effort effort) {
    switch (effort) {
      case Effort::slide_one:
        for (std::size_t i = 0; i < on_shaft_.size(); ++i) slide(i, rows_.now, {}, on_shaft_);
        break;
      case Effort::slide_two: slide_two(); break;
      case Effort::swap_one:
        for (std::size_t i = 0; i < on_shaft_.size(); ++i) swap(i);
        break;
      case Effort::add_one:
        for (std::size_t p = 0; p < shaft_.planes.size(); ++p) add(static_cast<int>(p), rows_.now, on_shaft_, {});
        break;
    }
  }

  bool can_move(std::size_t i) const {
    const FittedWeight& weight = on_shaft_[i];
    return weight.mass_kg > 0.0 && !stock_.rules_of(shaft_.planes[static_cast<std::size_t>(weight.plane)].name).closed;
  }

  static std::vector<FittedWeight> without(std::vector<FittedWeight> list, std::size_t i) {
    list.erase(list.begin() + static_cast<std::ptrdiff_t>(i));
    return list;
  }

  // Where piece i may go if the others stand as in `others`: the rules without the counts, for it is on the shaft
  // already.
  std::vector<double> places(std::size_t i, const std::vector<FittedWeight>& others) const {
    const int plane = on_shaft_[i].plane;
    const PlaneSites& site = empty_[static_cast<std::size_t>(plane)];
    std::vector<double> places = site.positions_rad;
    std::erase_if(places, [&](double angle) { return way({i, angle}) < least_slide_rad; });
    const double gap = std::max(site.smallest_gap_rad - 1e-9, 1e-6);
    for (const FittedWeight& other : others) {
      if (other.plane != plane || other.mass_kg <= 0.0) continue;
      std::erase_if(places, [&](double angle) { return std::abs(wrap_signed(angle - other.angle_rad)) < gap; });
    }
    return places;
  }

  // Tries piece i at every place, with `before` slid already and `rows` as it left them; `there` is how all pieces
  // stand now.
  void slide(std::size_t i, const std::vector<Phasor>& rows, const std::vector<Slide>& before,
             const std::vector<FittedWeight>& there) {
    if (!can_move(i)) return;
    const FittedWeight& weight = on_shaft_[i];
    double way_before = 0.0;
    for (const Slide& s : before) way_before += way(s);
    for (double to : places(i, without(there, i))) {
      const Phasor change = weight.mass_kg * weight.radius_m * phasor_at(1.0, to) - weight.unbalance_kg_m();
      const double ratio = rows_.worst(weight.plane, change, rows, best_.worst_ratio + just_as_good);
      const double travel = way_before + way({i, to});
      if (!better(ratio, travel)) continue;
      best_.worst_ratio = ratio;
      best_.slides = before;
      best_.slides.push_back({i, to});
      travel_rad_ = travel;
    }
  }

  bool better(double ratio, double travel) const {
    return ratio < best_.worst_ratio - just_as_good ||
           (ratio < best_.worst_ratio + just_as_good && travel < travel_rad_ - 1e-9);
  }

  double way(const Slide& slide) const {
    return std::abs(wrap_signed(slide.to_rad - on_shaft_[slide.fitted].angle_rad));
  }

  void slide_two() {
    for (std::size_t i = 0; i < on_shaft_.size(); ++i) {
      if (!can_move(i)) continue;
      const FittedWeight& first = on_shaft_[i];
      for (std::size_t k = i + 1; k < on_shaft_.size(); ++k) {
        if (!can_move(k)) continue;
        for (double to : places(i, without(without(on_shaft_, k), i))) {  // the other one makes way as well
          std::vector<FittedWeight> there = on_shaft_;
          there[i].angle_rad = to;
          const Phasor change = there[i].unbalance_kg_m() - first.unbalance_kg_m();
          slide(k, rows_.changed(first.plane, change, rows_.now), {{i, to}}, there);
        }
      }
    }
  }

  void swap(std::size_t i) {
    if (!can_move(i)) return;
    const FittedWeight& weight = on_shaft_[i];
    add(weight.plane, rows_.changed(weight.plane, -weight.unbalance_kg_m(), rows_.now), without(on_shaft_, i), {i});
  }

  void add(int plane, const std::vector<Phasor>& rows, const std::vector<FittedWeight>& there,
           const std::vector<std::size_t>& taken_off) {
    const PlaneSites site = sites_of(shaft_, stock_, there, step_rad_)[static_cast<std::size_t>(plane)];
    if (site.most_pieces < 1) return;
    for (const Piece& piece : pieces_) {
      if (piece.weighed_kg > site.most_mass_kg || std::abs(piece.acting_kg) > site.room_kg) continue;
      for (double angle : site.positions_rad) {
        const Placed placed{plane, piece, angle, site.radius_m + piece.radius_offset_m};
        const double ratio = rows_.worst(plane, placed.unbalance_kg_m(), rows, best_.worst_ratio);
        if (ratio >= best_.worst_ratio - just_as_good) continue;
        best_.worst_ratio = ratio;
        best_.added = {placed};
        best_.taken_off = taken_off;
      }
    }
  }

  void finish(Plan& plan) const {
    std::vector<Phasor> change(shaft_.planes.size(), 0.0);
    for (const Slide& s : plan.slides) {
      FittedWeight weight = on_shaft_[s.fitted];
      change[static_cast<std::size_t>(weight.plane)] -= weight.unbalance_kg_m();
      weight.angle_rad = s.to_rad;
      change[static_cast<std::size_t>(weight.plane)] += weight.unbalance_kg_m();
    }
    for (std::size_t i : plan.taken_off)
      change[static_cast<std::size_t>(on_shaft_[i].plane)] -= on_shaft_[i].unbalance_kg_m();
    for (const Placed& placed : plan.added) change[static_cast<std::size_t>(placed.plane)] += placed.unbalance_kg_m();
    for (const AimRow& row : rows_.aim) {
      Phasor value = row.present;
      for (std::size_t p = 0; p < change.size(); ++p) value += row.effect[p] * change[p];
      plan.predicted.push_back(value);
    }
  }

  const Shaft& shaft_;
  const Stock& stock_;
  Rows rows_;
  const std::vector<FittedWeight>& on_shaft_;
  double step_rad_;
  std::vector<Piece> pieces_;
  std::vector<PlaneSites> empty_;  // as if nothing were on the shaft
  double as_is_ = 0.0;
  Plan best_;
  double travel_rad_ = 0.0;
};

}  // namespace

std::string_view effort_name(Effort effort) {
  switch (effort) {
    case Effort::slide_one: return "slide one";
    case Effort::slide_two: return "slide two";
    case Effort::swap_one: return "swap one";
    case Effort::add_one: return "add one";
  }
  return "";
}

std::vector<Plan> plans_from_here(const Shaft& shaft, const Stock& stock, const Aim& aim,
                                  const std::vector<FittedWeight>& on_shaft, double step_rad) {
  return Planner(shaft, stock, aim, on_shaft, step_rad).run();
}

FittingSummary gather_into_weld(const Shaft& shaft, const Stock& stock, const Aim& aim,
                                const std::vector<FittedWeight>& on_shaft, int plane, const FittingOptions& options) {
  const auto p = static_cast<std::size_t>(plane);
  const auto here = [plane](const FittedWeight& w) { return w.plane == plane && w.mass_kg > 0.0; };
  if (std::count_if(on_shaft.begin(), on_shaft.end(), here) < 2)
    throw Error(Trouble::request, "nothing_to_gather",
                "plane " + shaft.planes[p].name + " has fewer than two weights on it",
                "gather where at least two are fitted");
  FittingProblem problem{aim, {}, {}, {}};
  std::vector<FittedWeight> others;
  for (const FittedWeight& weight : on_shaft) {
    if (!here(weight))
      others.push_back(weight);
    else
      for (AimRow& row : problem.aim) row.present -= row.effect[p] * weight.unbalance_kg_m();
  }
  for (const Piece& piece : pieces_of(stock))
    if (piece.way == Way::weld) problem.pieces.push_back(piece);
  if (problem.pieces.empty())
    throw Error(Trouble::request, "no_weld_pieces", "the stock has nothing to weld",
                "add a piece or a strip to the stock file");
  for (const StockKind& kind : stock.kinds) problem.counts.push_back(kind.count);
  problem.planes = sites_of(shaft, stock, others);
  for (std::size_t i = 0; i < problem.planes.size(); ++i)
    problem.planes[i].most_pieces = i == p ? std::min(1, problem.planes[i].most_pieces) : 0;
  return choose_pieces(problem, options);
}

}  // namespace counterspot
