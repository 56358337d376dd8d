#include "counterspot/log/quality.hpp"

#include <fmt/format.h>

#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "databases.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

JobOverview closed(const std::string& rig, std::int64_t at, int spins, std::optional<Verdict> verdict,
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
  CHECK(control_chart(std::vector<double>(12, 0.1))->beyond.empty());
}

TEST_CASE("yield counts every closed job, spins a shaft are a median, open jobs do not count") {
  std::vector<JobOverview> jobs = {
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
  job.rig_file = {"rig.toml", rig_toml()};
  job.shaft_file = {"shaft.toml", shaft_toml()};
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

TEST_CASE("a gauge study of the GUM's ten days comes out as printed") {
  // JCGM 100:2008, H.5, Table H.9 (means and deviations of five readings a day, from memory; recomputed: s_a² of the
  // means (57 µV)², within s_b = 85 µV, between days s_B = 43 µV as printed). Both parts hold the same numbers.
  const std::array<double, 10> mean_uV = {172, 116, 13, 144, 106, 31, 60, 125, 163, 41};
  const std::array<double, 10> deviation_uV = {60, 77, 111, 101, 67, 93, 80, 73, 88, 86};
  std::vector<std::vector<Phasor>> days;
  for (std::size_t d = 0; d < mean_uV.size(); ++d) {
    std::vector<Phasor> day;
    for (double k : {-2.0, -1.0, 0.0, 1.0, 2.0}) {  // of deviation √2.5
      const double value = mean_uV[d] + deviation_uV[d] * k / std::sqrt(2.5);
      day.emplace_back(value, value);
    }
    days.push_back(day);
  }
  const auto study = gauge_study(days);
  REQUIRE(study);
  CHECK(study->repeat_kg_m == Approx(85.0).margin(0.5));
  CHECK(study->mount_kg_m == Approx(43.0).margin(0.5));
}

namespace {

/// A job of a family whose coefficients scatter by 3 % from shaft to shaft, on a rig whose sensor A shows `gain` of
/// what it did. `learned`: only as found and a correction at both planes, as the tenth shaft is balanced.
Job job_on_rig(int number, double gain, bool learned, std::mt19937& random) {
  std::normal_distribution<double> normal;
  auto about = [&](double size) { return size * Phasor(1.0 + 0.03 * normal(random), 0.03 * normal(random)); };
  const std::array<Phasor, 4> alpha = {gain * about(20.0), gain * about(4.0), about(4.0), about(20.0)};
  std::array<Phasor, 2> on = {phasor_at(900e-6, 6.0 * normal(random)), phasor_at(700e-6, 6.0 * normal(random))};
  Job job;
  job.uid = fmt::format("{:032}", number);
  job.name = fmt::format("PS-{}/1", number);
  job.rig_file = {"rig.toml", rig_toml()};
  job.shaft_file = {"shaft.toml", shaft_toml()};
  auto add = [&](What what) {
    job.events.push_back({static_cast<int>(job.events.size()) + 1, 0, "test", std::move(what)});
  };
  auto spin = [&](const std::vector<FittedWeight>& fitted) {
    std::array<Phasor, 2> all = on;
    for (const FittedWeight& w : fitted)  // set to 1 % and 1 deg
      all[static_cast<std::size_t>(w.plane)] +=
          w.unbalance_kg_m() * Phasor(1.0 + 0.01 * normal(random), 0.017 * normal(random));
    Spun spun;
    spun.label = "spin";
    spun.speed_rad_s = rad_per_s(1800.0);
    for (std::size_t s = 0; s < 2; ++s) {
      const Phasor noise = 2e-5 * Phasor(normal(random), normal(random));
      spun.readings.push_back({s == 0 ? "A" : "B", Motion::acceleration,
                               alpha[2 * s] * all[0] + alpha[2 * s + 1] * all[1] + noise,
                               4e-10 * Eigen::Matrix2d::Identity()});
    }
    add(Fitted{fitted});
    add(spun);
  };
  spin({});
  if (!learned) spin({{0, 0.015, 0.039, 0.3}});
  if (!learned) spin({{1, 0.015, 0.039, 1.3}});
  spin({{0, std::abs(on[0]) / 0.039, 0.039, std::arg(-on[0])}, {1, std::abs(on[1]) / 0.039, 0.039, std::arg(-on[1])}});
  return job;
}

}  // namespace

TEST_CASE("a rig that drifts is found out by its coefficients, at the sensor that drifts") {
  std::mt19937 random(5);
  std::vector<Job> jobs;
  double gain = 1.0;
  for (int i = 0; i < 40; ++i) {
    if (i >= 12) gain *= 0.985;  // a mounting that works loose: 1.5 % a shaft
    jobs.push_back(job_on_rig(i, gain, i > 2, random));
  }
  const auto trends = coefficient_trends(jobs);
  REQUIRE(trends.size() == 2);
  CHECK(trends[0].sensor == "A");
  REQUIRE(trends[0].since);
  CHECK(*trends[0].since >= 12);
  CHECK(*trends[0].since <= 30);                                          // by then a quarter is gone
  CHECK(std::abs(trends[0].ratios.back()) == Approx(gain).margin(0.12));  // three deviations of 3 % and of the weights
  CHECK(trends[1].sensor == "B");
  CHECK_FALSE(trends[1].since);
  CHECK(trends[1].beyond.size() <= 1);
}

TEST_CASE("a rig that does not drift is left in peace") {
  std::mt19937 random(6);
  std::size_t judged = 0;
  std::size_t beyond = 0;
  for (int rig = 0; rig < 60; ++rig) {
    std::vector<Job> jobs;
    for (int i = 0; i < 18; ++i) jobs.push_back(job_on_rig(i, 1.0, i > 2, random));
    for (const CoefficientTrend& trend : coefficient_trends(jobs)) {
      CHECK_FALSE(trend.since);
      judged += trend.ratios.size() - first_jobs_of_band;
      beyond += trend.beyond.size();
    }
  }
  fmt::print("coefficients of a rig that does not drift: {} of {} judged beyond their band\n", beyond, judged);
  CHECK(judged == 60 * 2 * 10);
  // One in a thousand is 1.2; the jobs of one rig share its band, so that false alarms come in groups.
  CHECK(beyond <= 8);
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
