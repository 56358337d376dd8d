// The guide's own part in a job: what a piece of text means on the shaft, what comes off, which recordings it takes.
// Angles are held against the clock's convention: the mark at 12:00, half a degree a minute, read at the viewing end.
#include "counterspot/guide/guide.hpp"

#include <catch2/catch.hpp>

#include "counterspot/files/files.hpp"
#include "counterspot/guide/stock_correction.hpp"
#include "counterspot/guide/taken_off.hpp"
#include "counterspot/units/angle.hpp"
#include "demo_files.hpp"
#include "error_code.hpp"
#include "made_up_shop.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

const std::string program = "counterspot 0.1.0";
constexpr std::int64_t some_day = 1'764'072'000;

std::vector<FittedWeight> three_weights() {
  return {{0, 0.015, 0.039, 0.0}, {1, 0.010, 0.039, 1.0}, {0, 0.005, 0.039, 2.0}};
}

/// A job of the made-up shop with its log.
struct ShopWithLog {
  TemporaryFolder folder;
  Log log = Log::open((folder / "log.db").string(), true);
  MadeUpShop shop;
};

}  // namespace

TEST_CASE("a piece is read by degrees or by the clock, at its plane's radius or the one that is typed") {
  const Rig rig = read_rig_text(rig_toml(), "rig.toml");
  const Shaft shaft = read_shaft_text(shaft_toml(), "shaft.toml");
  FittedWeight piece = parse_piece("B 12.5 g @ 138.4 deg, radius 41 mm", rig, shaft);
  CHECK(piece.plane == 1);
  CHECK(piece.mass_kg == Approx(0.0125));
  CHECK(piece.radius_m == Approx(0.041));
  CHECK(degrees(piece.angle_rad) == Approx(138.4));
  piece = parse_piece("A 12.5 g @ 4:37", rig, shaft);
  CHECK(piece.plane == 0);
  CHECK(piece.radius_m == Approx(0.039));
  // 4 h 37 min are 138.5 deg clockwise. A spot there is at that shaft angle, against the rotation, if the shaft turns
  // counter-clockwise as seen from the viewing end; clockwise it is the rest of the turn.
  CHECK(degrees(piece.angle_rad) == Approx(rig.rotation == Rotation::counter_clockwise ? 138.5 : 360.0 - 138.5));
  Rig other = rig;
  other.rotation = seen_from_other_end(rig.rotation);
  CHECK(degrees(parse_piece("A 12.5 g @ 4:37", other, shaft).angle_rad) == Approx(360.0 - degrees(piece.angle_rad)));
  for (const char* text : {"", "A", "C 12 g @ 1:00", "A 12 g", "12 g @ 1:00", "@ A 12 g"}) {
    CAPTURE(text);
    CHECK(code_of([&] { parse_piece(text, rig, shaft); }) == "bad_piece");
  }
  CHECK(code_of([&] { parse_piece("A 12 @ 1:00", rig, shaft); }) == "bad_quantity");
}

TEST_CASE("weights come off by their numbers, in any order and however often one is named") {
  const auto on = three_weights();
  CHECK(without_numbers(on, {}) == on);
  CHECK(without_numbers(on, {3, 1}) == std::vector<FittedWeight>{on[1]});
  CHECK(without_numbers(on, {2, 2}) == std::vector<FittedWeight>{on[0], on[2]});
  CHECK(without_numbers(on, {1, 2, 3}).empty());
  for (const int none : {0, -1, 4}) CHECK(code_of([&] { without_numbers(on, {1, none}); }) == "no_such_piece");
}

TEST_CASE("a spin that nobody names is the one as found, then goes by its number") {
  ShopWithLog made;
  Job job =
      made.log.open_job({"rig.toml", made.shop.rig_text(), "shaft.toml", made.shop.shaft_text(1), program, some_day});
  CHECK(usual_label(job) == "as found");
  CHECK(usual_label(made.shop.spun_job(made.log, 2, 1, some_day)) == "spin 2");
  CHECK(usual_label(made.shop.spun_job(made.log, 3, 3, some_day)) == "spin 4");
}

TEST_CASE("a recording is a spin of one job, unless that job was given up or it was taken back there") {
  ShopWithLog made;
  Job first = made.shop.spun_job(made.log, 1, 0, some_day);
  Job second = made.shop.spun_job(made.log, 2, 0, some_day);
  const Job donor = made.shop.spun_job(made.log, 3, 1, some_day);
  Spun spun = std::get<Spun>(donor.events.front().what);
  spun.recording = "00.wav";
  spun.sha256 = std::string(64, 'a');
  first = keep_spin(made.log, first, spun, program, some_day + 1);
  CHECK(std::get<Spun>(first.events.back().what).sha256 == spun.sha256);
  CHECK(code_of([&] { keep_spin(made.log, first, spun, program, some_day + 2); }) == "same_recording");
  CHECK(code_of([&] { keep_spin(made.log, second, spun, program, some_day + 2); }) == "same_recording");
  SECTION("taken back") {
    made.log.append(first, TakenBack{1, "of another shaft"}, program, some_day + 3);
  }
  SECTION("given up") {
    made.log.append(first, Closed{std::nullopt, std::nullopt, "the tube is dented"}, program, some_day + 3);
  }
  CHECK(keep_spin(made.log, second, spun, program, some_day + 4).events.size() == 1);
}

TEST_CASE("a job is closed on its final spin, and without one only for a reason") {
  ShopWithLog made;
  const Job open = made.shop.spun_job(made.log, 1, 1, some_day);
  const Closed closing = closing_of(known_job(made.log, open), "no time");
  CHECK_FALSE(closing.final_spin);
  CHECK_FALSE(closing.finding);
  CHECK(code_of([&] { close_job(made.log, open.name, "", program, some_day + 1); }) == "no_reason");
  CHECK(close_job(made.log, open.name, "no time", program, some_day + 1).events.size() == 2);
  // Taught by others, and then spun with its correction on: its last spin is final.
  for (int i = 2; i < 8; ++i) made.shop.spun_job(made.log, i, 3, some_day + 86400 * i);
  const Job corrected = made.shop.corrected_job(made.log, 9, some_day + 86400 * 9);
  const Closed& closed = std::get<Closed>(corrected.events.back().what);
  CHECK(closed.final_spin == 3);
  REQUIRE(closed.finding);
}

TEST_CASE("the stock's pieces for a correction leave by the laws of vectors what is foretold of them") {
  ShopWithLog made;
  const Job job = made.shop.spun_job(made.log, 1, 3, some_day);
  const KnownJob known = known_job(made.log, job);
  REQUIRE(known.next().kind == StepKind::fit_correction);
  REQUIRE(known.next().instead);
  const Stock stock = read_stock(source_file("data/stock.toml"), job.shaft());
  const JobState state = state_of(job.events);
  for (const Base base : {Base::as_spun, Base::bare}) {
    int asked = 0;
    CorrectionOptions options;  // what was found by then must hold its promise as well as the best
    options.fitting.out_of_time = [&] { return ++asked > 2000; };
    const StockCorrection found = stock_correction(known, stock, base, options);
    CHECK(found.on_shaft.size() == (base == Base::bare ? 0 : state.on_shaft.size()));
    const std::vector<StockWay> ways = ways_of(found);
    REQUIRE_FALSE(ways.empty());
    for (const StockWay& way : ways) {
      if (way.plan != nullptr) {
        CHECK(base == Base::as_spun);  // a plan moves what is on now
        CHECK(way.worst_ratio() <= 1.0);
        continue;
      }
      // The planes are the only places of limits apart from the supports; there it cannot be worse than the worst.
      double worst = 0.0;
      for (std::size_t p = 0; p < 2; ++p) {
        Phasor left = known.analysis.solution->planes[p].residual_kg_m;
        for (const FittedWeight& weight : state.on_shaft)
          if (base == Base::bare && weight.plane == static_cast<int>(p)) left -= weight.unbalance_kg_m();
        for (const FittedWeight& weight : way.fit)
          if (weight.plane == static_cast<int>(p)) left += weight.unbalance_kg_m();
        worst = std::max(worst, std::abs(left) / known.analysis.solution->planes[p].limit_kg_m.value());
      }
      CHECK(way.off.empty());
      CHECK(worst <= way.worst_ratio() + 1e-9);
      CHECK(way.worst_ratio() < 1.0);
    }
  }
}

TEST_CASE("where no correction is asked for the stock is asked for nothing") {
  ShopWithLog made;
  const Job job = made.shop.spun_job(made.log, 1, 1, some_day);
  const KnownJob known = known_job(made.log, job);
  REQUIRE(known.next().kind == StepKind::fit_trial);
  const Stock stock = read_stock(source_file("data/stock.toml"), job.shaft());
  CHECK(code_of([&] { stock_correction(known, stock, Base::as_spun); }) == "nothing_asked");
  CHECK(code_of([&] { with_trials_off(state_of(job.events), known.next()); }) == "nothing_asked");
}
