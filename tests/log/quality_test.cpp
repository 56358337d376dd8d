#include "counterspot/quality.hpp"

#include <catch2/catch.hpp>
#include <random>

#include "databases.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

JobLine closed(const std::string& rig, std::int64_t at, int spins, std::optional<Verdict> verdict,
               std::optional<double> ratio) {
  return {"PS-1/1", "PS-1", rig, "tube", at - 3600, at, spins, verdict, ratio};
}

}  // namespace

TEST_CASE("weeks are those of ISO 8601, also around New Year") {
  // Python 3.11 datetime.isocalendar, at 12:00 UTC of the day in the comment.
  CHECK(iso_week(1104580800) == "2004-W53");  // 2005-01-01
  CHECK(iso_week(1230552000) == "2009-W01");  // 2008-12-29
  CHECK(iso_week(1262520000) == "2009-W53");  // 2010-01-03
  CHECK(iso_week(1609675200) == "2020-W53");  // 2021-01-03
  CHECK(iso_week(1609761600) == "2021-W01");  // 2021-01-04
  CHECK(iso_week(1795608000) == "2026-W48");  // 2026-11-25
}

TEST_CASE("the control chart of the textbook's paint viscosities comes out as printed") {
  // D. C. Montgomery, Introduction to Statistical Quality Control, individuals chart of aircraft primer viscosity (data
  // from memory; mean, ranges and limits recomputed in Python: 33.5233, 0.48071, 34.802, 32.245).
  const std::vector<double> viscosity = {33.75, 33.05, 34.00, 33.81, 33.46, 34.02, 33.68, 33.27,
                                         33.49, 33.20, 33.62, 33.00, 33.54, 33.12, 33.84};
  auto chart = control_chart(viscosity);
  REQUIRE(chart);
  CHECK(chart->centre == Approx(33.5233).margin(5e-5));
  CHECK(chart->upper == Approx(34.802).margin(1e-3));
  CHECK(chart->lower == Approx(32.245).margin(1e-3));
  CHECK(chart->beyond.empty());
  std::vector<double> shifted = viscosity;
  shifted.push_back(36.0);
  CHECK(control_chart(shifted)->beyond == std::vector<std::size_t>{15});
  CHECK_FALSE(control_chart({1.0}));
}

TEST_CASE("yield counts every closed job, spins a shaft are a median, open jobs do not count") {
  std::vector<JobLine> jobs = {
      closed("bay 2", 1795608000, 4, Verdict::within, 0.4), closed("bay 2", 1795608000, 2, Verdict::within, 0.6),
      closed("bay 2", 1795608000, 3, Verdict::outside, 1.5), closed("bay 2", 1795608000, 1, {}, {}),
      closed("bay 3", 1609761600, 2, Verdict::unsure, 0.99)};
  jobs.push_back(closed("bay 2", 1795608000, 9, {}, {}));
  jobs.back().closed_unix_s.reset();
  const auto by_rig = trend_of(jobs, Grouping::rig);
  REQUIRE(by_rig.size() == 2);
  CHECK(by_rig[0].group == "bay 2");
  CHECK(by_rig[0].closed == 4);
  CHECK(by_rig[0].within == 2);
  CHECK(by_rig[0].outside == 1);
  CHECK(by_rig[0].without_final == 1);
  CHECK(by_rig[0].yield_fraction() == 0.5);
  CHECK(by_rig[0].median_spins == 2.5);
  CHECK(by_rig[0].median_ratio == 0.6);
  CHECK(by_rig[0].highest_ratio == 1.5);
  CHECK(by_rig[1].unsure == 1);
  const auto by_week = trend_of(jobs, Grouping::week);
  CHECK(by_week.front().group == "2021-W01");
  CHECK(by_week.back().group == "2026-W48");
}

TEST_CASE("repeatability is the scatter of spins with the same weights on, and of no others") {
  Job job;
  job.rig_text = rig_toml();
  job.shaft_text = shaft_toml();
  auto add = [&](What what) {
    job.events.push_back({static_cast<int>(job.events.size()) + 1, 0, "test", std::move(what)});
  };
  add(spin_of("one", 1.0, 0.0));
  add(spin_of("two", 1.2, 0.0));
  add(Fitted{{{0, 0.01, 0.039, 0.0}}});
  add(spin_of("with a weight", 5.0, 0.0));
  // By pencil: sensor A reads 1.0 and 1.2, mean 1.1, Σ|z − mean|² = 0.02; two parts with one degree of freedom each:
  // √(0.02/2) = 0.1.
  const auto found = repeatability_of({job});
  REQUIRE(found.size() == 2);
  CHECK(found[0].sensor == "A");
  CHECK(found[0].deviation_si == Approx(0.1));
  CHECK(found[0].degrees_of_freedom == 2);
}

TEST_CASE("a gauge study tells the scatter of spins from that of mountings") {
  // By pencil, real parts only: mountings (0, 2) and (4, 6): within Σ = 2 + 2, mean square 4/2/2 = 1 of one part;
  // between Σ = 2·2² + 2·2² = 16, mean square 16/1/2 = 8; (8 − 1)/2 = 3.5.
  auto study = gauge_study({{{0, 0}, {2, 0}}, {{4, 0}, {6, 0}}});
  REQUIRE(study);
  CHECK(study->repeat_kg_m == Approx(1.0));
  CHECK(study->mount_kg_m == Approx(std::sqrt(3.5)));
  CHECK(study->total_kg_m == Approx(std::sqrt(4.5)));
  CHECK_FALSE(gauge_study({{{0, 0}, {2, 0}}}));
  CHECK_FALSE(gauge_study({{{0, 0}}, {{2, 0}}}));

  // What was put in comes out: 400 mountings of three spins, within 5 % (three standard errors of a deviation from 800
  // degrees of freedom are 7.5 %, of both parts together 5.3 %).
  std::mt19937 random(1);
  std::normal_distribution<double> normal;
  std::vector<std::vector<Phasor>> mountings(400);
  for (auto& mounting : mountings) {
    const Phasor at(5.0 * normal(random), 5.0 * normal(random));
    for (int i = 0; i < 3; ++i) mounting.push_back(at + 2.0 * Phasor(normal(random), normal(random)));
  }
  study = gauge_study(mountings);
  CHECK(study->repeat_kg_m == Approx(2.0).epsilon(0.055));
  CHECK(study->mount_kg_m == Approx(5.0).epsilon(0.11));
}
