// `solve --log` and `job` on the same spins of one shaft: what earlier shafts taught has the same part in both.
#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "counterspot/job/stated.hpp"
#include "made_up_shop.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;
using nlohmann::json;

namespace {

constexpr std::int64_t first_day = 1764072000;

std::string typed(const Spun& spun) {
  std::string text;
  for (const SensorReading& reading : spun.readings)
    text += fmt::format("{}{} = \"{:.12g} m/s2 @ {:.12g} deg ± {:.12g} m/s2\"", text.empty() ? "" : ", ",
                        reading.sensor, std::abs(reading.value), degrees(wrap_positive(std::arg(reading.value))),
                        2.0 * std::sqrt(reading.covariance(0, 0)));
  return fmt::format("speed = \"{:.12g} rpm\"\nvector = {{ {} }}\n", rpm(*spun.speed_rad_s), text);
}

/// The standing spins of a job as a person would type them.
void write_spins(const TemporaryFolder& folder, const MadeUpShop& shop, const Job& job) {
  write_file(folder / "rig.toml", shop.rig_text());
  write_file(folder / "shaft.toml", job.shaft_file.text());
  std::string text = "rig = \"rig.toml\"\nshaft = \"shaft.toml\"\n";
  for (const StandingSpin& spin : state_of(job.events).spins) {
    text += "[[spin]]\nlabel = \"spin\"\n" + typed(spin.spun) + "fitted = [";
    for (const FittedWeight& piece : spin.fitted)
      text += fmt::format("{{ plane = \"{}\", mass = \"{:.12g} g\", angle = \"{:.12g} deg\" }}, ", "AB"[piece.plane],
                          1e3 * piece.mass_kg, degrees(piece.angle_rad));
    text += "]\n";
  }
  write_file(folder / "spins.toml", text);
}

}  // namespace

TEST_CASE(
    "solve --log uses what the rig taught, as a job does, and an earlier job of the same shaft does not teach it") {
  const TemporaryFolder folder;
  Log log = Log::open((folder / "log.db").string(), true);
  MadeUpShop shop;
  for (int i = 0; i < 9; ++i) shop.spun_job(log, i, 3, first_day + 86400 * i);
  const Job job = shop.corrected_job(log, 9, first_day + 86400 * 9);
  write_spins(folder, shop, job);
  const auto run = [&](std::vector<std::string> more) {
    more.insert(more.begin(), {"solve", "spins.toml"});
    return run_program(more, "/dev/null", folder.path());
  };
  CHECK_THAT(run({}).err, Catch::Contains("too few") || Catch::Contains("spins"));  // two spins, and two planes
  CHECK(run({}).exit_code == 2);

  const json document = json::parse(run({"--log", "log.db", "--json"}).out);
  CHECK(document.at("used_what_rig_taught") == true);
  CHECK(document.at("earlier_shafts") == 9);
  CHECK(document.at("trial_weights_on").size() == trial_weights_of(job).size());
  const Finding& finding = *std::get<Closed>(job.events.back().what).finding;
  for (std::size_t i = 0; i < finding.held.size(); ++i) {
    const json& held = document.at("held").at(i);
    CHECK(held.at("residual_gmm").get<double>() == Approx(in_g_mm(finding.held[i].residual_kg_m)).epsilon(1e-4));
    CHECK(held.at("u_residual_gmm").get<double>() == Approx(in_g_mm(finding.held[i].u_residual_kg_m)).epsilon(1e-4));
  }
  CHECK_THAT(run({"--log", "log.db"}).out, Catch::Contains("2 spins, with what the rig taught (earlier shafts: 9)"));
}
