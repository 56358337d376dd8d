#include "sheet/random_sheet.hpp"

#include "sheet/story.hpp"

namespace counterspot::test {

namespace {

class Dice {
 public:
  explicit Dice(std::mt19937& random) : random_(random) {}
  int upto(int most) { return std::uniform_int_distribution<int>(0, most)(random_); }
  bool one_in(int n) { return upto(n - 1) == 0; }
  double part() { return std::uniform_real_distribution<double>(0.0, 1.0)(random_); }
  /// Mostly few, now and then many.
  int count(int most) { return static_cast<int>(std::pow(part(), 3.0) * (most + 1)); }
  std::string words(int most) {
    static const char* const some[] = {"Marrow", "Creek",    "Shaftworks", "drive", "of",          "the", "pump",
                                       "A",      "Kreuzung", "weld",       "x",     "MC-0417-2/b", "for", "Schlüssel"};
    std::string text;
    for (int n = 1 + upto(most - 1); n > 0; --n) text += (text.empty() ? "" : " ") + std::string(some[upto(13)]);
    return one_in(20) ? text + std::string(60, 'W') : text;
  }

 private:
  std::mt19937& random_;
};

WorkOrder random_order(Dice& dice) {
  WorkOrder order;
  for (std::string* line : {&order.customer, &order.number, &order.part, &order.serial, &order.shop, &order.balanced_by,
                            &order.inspected_by, &order.fixed_by, &order.limits_by})
    if (!dice.one_in(3)) *line = dice.words(8);
  return order;
}

void add_pieces(Sheet& sheet, Dice& dice, int count) {
  sheet.pieces.clear();
  for (ClockFace& face : sheet.faces) face.pieces.clear();
  for (int i = 0; i < count; ++i) {
    const auto plane = static_cast<std::size_t>(dice.upto(static_cast<int>(sheet.faces.size()) - 1));
    const FittedWeight weight{static_cast<int>(plane), dice.one_in(6) ? -0.01 : 0.12 * dice.part(), 0.039,
                              radians(dice.one_in(4) ? 0.0 : 360.0 * dice.part())};
    const int number = i + 1;
    sheet.pieces.push_back(
        {number, sheet.faces[plane].plane, weight, spot_at(weight.angle_rad, sheet.rig.rotation, 0.0762)});
    sheet.faces[plane].pieces.push_back(
        {PieceState::on_shaft, std::abs(weight.mass_kg), weight.angle_rad, weight.mass_kg < 0.0, number});
  }
}

void add_spins(Sheet& sheet, Dice& dice, int count) {
  sheet.spins.clear();
  for (int i = 0; i < count; ++i) {
    const bool recorded = !dice.one_in(4);
    sheet.spins.push_back({i + 1, dice.words(4), 169.8, recorded ? dice.words(3) + ".wav" : "",
                           recorded ? std::string(64, "0123456789abcdef"[dice.upto(15)]) : ""});
  }
  for (VectorDiagram& diagram : sheet.diagrams) {
    diagram.spins.clear();
    for (int i = 0; i < count; ++i)
      diagram.spins.push_back({sheet.spins[static_cast<std::size_t>(i)].label,
                               phasor_at(2e-3 * std::pow(dice.part(), 2.0), radians(360.0 * dice.part())),
                               1e-10 * Eigen::Matrix2d::Identity()});
  }
}

void change_places(Sheet& sheet, Dice& dice) {
  for (SheetPlace& place : sheet.places) {
    const double size = std::pow(10.0, -5.0 + 3.0 * dice.part());
    place.held.residual_kg_m = size * dice.part();
    place.held.u_residual_kg_m = dice.one_in(5) ? 0.0 : 0.3 * size * dice.part();
    place.held.limit_kg_m = size * (0.1 + dice.part());
    place.held.verdict = verdict_of(place.held.residual_kg_m, place.held.u_residual_kg_m, place.held.limit_kg_m);
    if (dice.one_in(4)) place.as_found.reset();
    if (dice.one_in(4)) place.angle_rad.reset();
  }
  if (dice.one_in(4)) sheet.places.push_back({{at_mode(1), 1e-4, 1e-6, 4e-4, Verdict::within}});
  if (dice.one_in(8)) sheet.places.clear();
}

/// Of two and of three planes, made once.
const Sheet& base_sheet(int planes) {
  static const auto made = [](int count) {
    Story story("PS-1042", count);
    story.usual();
    return sheet_of(story.log, story.job.name);
  };
  static const Sheet two = made(2);
  static const Sheet three = made(3);
  return planes == 2 ? two : three;
}

}  // namespace

RandomSheet random_sheet(std::mt19937& random) {
  Dice dice(random);
  RandomSheet drawn;
  Sheet& sheet = drawn.sheet;
  sheet = base_sheet(dice.one_in(3) ? 3 : 2);
  drawn.words = dice.one_in(2) ? &english() : &german();
  drawn.units = dice.one_in(3) ? UnitSystem::inch : UnitSystem::metric;
  drawn.paper = dice.one_in(3) ? Paper::letter : Paper::a4;
  sheet.order = random_order(dice);
  if (dice.one_in(3)) sheet.job = dice.words(14) + "/12";
  if (dice.one_in(3)) sheet.rig.name = dice.words(7);
  if (dice.one_in(3)) sheet.shaft.id = dice.words(9);
  if (dice.one_in(3)) sheet.qualification = SheetQualification{opened, "MASTER", {12.3e-6, 1.1e-4}};
  if (dice.one_in(3)) sheet.limits.grade.clear();
  sheet.verdict = std::array<std::optional<Verdict>, 4>{Verdict::within, Verdict::outside, Verdict::unsure,
                                                        std::nullopt}[static_cast<std::size_t>(dice.upto(3))];
  change_places(sheet, dice);
  add_pieces(sheet, dice, dice.count(60));
  add_spins(sheet, dice, 1 + dice.count(70));
  for (int n = dice.count(30); n > 0; --n) sheet.notes.push_back({dice.words(40), {}, {}});
  for (int n = dice.count(6); n > 0; --n) sheet.held_back.push_back({"", dice.words(30), dice.words(9), {}, {}});
  if (dice.one_in(4)) sheet.to_fit = sheet.pieces;
  if (dice.one_in(3)) sheet.closed_unix_s.reset();
  for (VectorDiagram& diagram : sheet.diagrams) diagram.units = drawn.units;
  return drawn;
}

}  // namespace counterspot::test
