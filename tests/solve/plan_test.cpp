// What is to be fitted: of the pieces there are, where they may go, and no more than a plane may carry.
#include "counterspot/solve/plan.hpp"

#include <catch2/catch.hpp>

#include "counterspot/files/files.hpp"
#include "counterspot/solve/no_phase.hpp"
#include "job/pencil_rig.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

constexpr double spun_at_rad_s = rad_per_s(1800.0);

/// Clamps with three lumps that hold 25 N, and a seam at the mark of plane A.
Stock bay_stock() {
  StockKind clamp;
  clamp.name = "hose clamp";
  clamp.way = Way::clamp;
  clamp.holds_N = 25.0;
  clamp.masses_kg = {8.5e-3, 12.5e-3, 25e-3};
  StockKind washer;
  washer.name = "washer";
  washer.masses_kg = {17.9e-3};
  Stock stock;
  stock.kinds = {clamp, washer};
  stock.rules["A"].forbidden = {{radians(350.0), radians(8.0), "seam"}};
  return stock;
}

PlannedTrial planned(const Shaft& shaft, const TrialBasis& basis) {
  const auto plan = plan_trial(shaft, 0, basis);
  REQUIRE(std::holds_alternative<PlannedTrial>(plan));
  return std::get<PlannedTrial>(plan);
}

NoTrial no_plan(const Shaft& shaft, const TrialBasis& basis) {
  const auto plan = plan_trial(shaft, 0, basis);
  REQUIRE(std::holds_alternative<NoTrial>(plan));
  return std::get<NoTrial>(plan);
}

}  // namespace

// By pencil: G16 at 3200 rpm lets 14.6 kg have 697.1 g·mm, half of it at A; twice that at 39 mm is 17.87 g. At 1800 rpm
// (188.5 rad/s) 12.5 g at 39 mm pull with 17.3 N, and 25 g with 34.6 N, which the clamp does not hold.
TEST_CASE("a trial weight of a stock is the clamp that comes nearest and holds, beside the seam") {
  const Shaft shaft = read_shaft_text(shaft_toml(), "shaft.toml");
  const Stock stock = bay_stock();
  TrialBasis basis{spun_at_rad_s};
  CHECK(planned(shaft, basis).piece.mass_kg == Approx(17.87e-3).epsilon(1e-3));
  CHECK(planned(shaft, basis).piece.angle_rad == 0.0);
  basis.stock = &stock;
  const PlannedTrial trial = planned(shaft, basis);
  CHECK(trial.kind == "hose clamp");
  CHECK(trial.piece.mass_kg == 12.5e-3);
  CHECK(trial.weight.pull_N == Approx(17.32).epsilon(1e-3));
  CHECK(degrees(trial.piece.angle_rad) == Approx(9.0));  // 8 deg belongs to the seam
}

TEST_CASE("a job is asked for a trial weight of the stock that is stated") {
  const Stock stock = bay_stock();
  Job job = job_of(shaft_toml());
  append(job, PencilRig().spin({}));
  const Analysis analysis = analyse(job, {});
  const NextStep step = next_step(job, analysis, {}, &stock);
  REQUIRE(step.pieces.size() == 1);
  CHECK(step.pieces[0].mass_kg == 12.5e-3);
  CHECK(degrees(step.pieces[0].angle_rad) == Approx(9.0));
  CHECK(next_step(job, analysis, {}).pieces[0].mass_kg == Approx(17.87e-3).epsilon(1e-3));
}

TEST_CASE("where a clamp is on already, or nothing is light enough, no trial weight is planned, and it is said why") {
  Shaft shaft = read_shaft_text(shaft_toml(), "shaft.toml");
  Stock stock = bay_stock();
  stock.rules["A"].most_pieces = 1;
  TrialBasis basis{spun_at_rad_s};
  basis.stock = &stock;
  basis.on_shaft = {{0, 8.5e-3, 0.039, 1.0}};
  CHECK(no_plan(shaft, basis) == NoTrial::plane_full);
  basis.on_shaft.clear();
  CHECK(planned(shaft, basis).piece.mass_kg == 12.5e-3);
  shaft.planes[0].at_most_kg = 10e-3;
  CHECK(planned(shaft, basis).piece.mass_kg == 8.5e-3);
  shaft.planes[0].at_most_kg = 5e-3;
  CHECK(no_plan(shaft, basis) == NoTrial::nothing_in_stock);
}

// The sensors' phases do not enter what weights make of the vibration, so both ways lead to one correction.
TEST_CASE("without phase the planes that may not carry enough get the same correction as with it") {
  const std::string alike = "[setting]\nrepeat = \"0 %\"\n";  // both sensors' readings are as sure as one another
  const Rig rig = read_rig_text(rig_toml({"bay 2", "20 mV/(mm/s)", {"A", "B"}}) + alike, "rig.toml");
  Shaft shaft = read_shaft_text(shaft_toml({"PS-1042", "limit = { A = \"40 g·mm\", B = \"40 g·mm\" }", "40 mm"}), "");
  for (Plane& plane : shaft.planes) plane.at_most_kg = 6e-3;  // 7.5 g and 5 g are missing, and 3 g are on at B
  std::vector<SpinReading> readings;
  AmplitudeSet set{rig, shaft, {}, {}};
  for (const int plane : {-1, 0, 0, 0, 1, 1, 1}) {
    std::vector<FittedWeight> fitted;
    if (plane >= 0) fitted = {{plane, 3e-3, 0.04, radians(120.0 * static_cast<double>(readings.size()))}};
    const Spun spun = PencilRig().spin(fitted);
    SpinReading reading{"spin", fitted, {}, {}, spun.speed_rad_s};
    AmplitudeSpin amplitudes{{"spin", fitted, {}, {}}, {}, {}, spun.speed_rad_s};
    for (const SensorReading& each : spun.readings) {
      reading.vectors.push_back(each.value);
      reading.covariances.push_back(each.covariance);
      amplitudes.reading.amplitudes.push_back(std::abs(each.value));
      amplitudes.reading.u_amplitudes.push_back(std::sqrt(each.covariance(0, 0)));
      amplitudes.motions.push_back(each.motion);
    }
    readings.push_back(reading);
    set.spins.push_back(amplitudes);
  }
  const Solution with = solve_readings(rig, shaft, readings, set.spins.front().motions);
  const AmplitudeSolution without = solve_without_phase(set);
  constexpr double settled = 1e-3;  // both are found in steps
  for (std::size_t p = 0; p < 2; ++p) {
    const FitInstruction& fit = without.answers.front().corrections.at(p);
    CHECK(fit.mass_kg == Approx(with.planes[p].correction.mass_kg).epsilon(settled));
    CHECK(std::abs(wrap_signed(fit.angle_rad - with.planes[p].correction.angle_rad)) < settled);
  }
  CHECK(with.planes[0].correction.mass_kg == Approx(6e-3).epsilon(settled));
}
