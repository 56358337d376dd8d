// The demo recordings in data/, against the truth they were made from.
#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "counterspot/recording/recording.hpp"
#include "rigsim/dynamics.hpp"
#include "rigsim/scenario.hpp"
#include "rigsim/simulate.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;
using Json = nlohmann::json;

namespace {

Json solved(const std::string& spins, int exit_code) {
  Ran ran = run_program({"solve", source_file("data/" + spins).string(), "--json"});
  INFO(ran.err);
  REQUIRE(ran.exit_code == exit_code);
  return Json::parse(ran.out);
}

/// What must be added at each plane in kg·m, with a weight that is already there.
std::array<Phasor, 2> true_correction(const std::vector<rigsim::UnbalanceSlice>& fitted) {
  rigsim::Scenario scenario = rigsim::marrow_creek();
  auto felt = rigsim::equivalent_at_speed(scenario.rig, scenario.shaft, fitted, scenario.plane_positions_m(),
                                          scenario.balancing_rad_s);
  return {-felt[0], -felt[1]};
}

void check_correction(const std::string& spins) {
  Json solution = solved(spins, 1);
  CHECK(solution["verdict"] == "outside");
  const auto trial = rigsim::piece_at(rigsim::marrow_creek().planes[1], 0.015, 0.0);
  const std::array<Phasor, 2> with_trial = true_correction({trial});
  const std::array<Phasor, 2> bare = true_correction({});
  for (std::size_t p = 0; p < 2; ++p) {
    const Json& plane = solution["planes"][p];
    auto added = [&](const char* which) {
      const Json& fit = plane[which];
      return std::polar(fit["mass_g"].get<double>() * 1e-3 * fit["radius_mm"].get<double>() * 1e-3,
                        radians(fit["angle_deg"].get<double>()));
    };
    // Four standard uncertainties, in either part of the vector.
    const double off = 4.0 * std::sqrt(2.0) * 1e-6 * plane["u_residual_gmm"].get<double>();
    CHECK(std::abs(added("correction") - with_trial[p]) < off);
    CHECK(std::abs(added("correction_bare") - bare[p]) < off);
  }
  REQUIRE(solution["trial_weights_on"].size() == 1);
  CHECK(solution["trial_weights_on"][0]["plane"] == "B");
}

}  // namespace

TEST_CASE("the demo's correction is the one its shaft needs, from FLAC and from CSV") {
  check_correction("spins.toml");
  check_correction("csv/spins.toml");
}

TEST_CASE("the demo's corrected shaft is within, and what is left of it is what is really left") {
  Json solution = solved("spins-verify.toml", 0);
  CHECK(solution["verdict"] == "within");
  rigsim::Scenario scenario = rigsim::marrow_creek();
  auto left = true_correction({rigsim::piece_at(scenario.planes[0], 0.0363, radians(266.2)),
                               rigsim::piece_at(scenario.planes[1], 0.015, 0.0),
                               rigsim::piece_at(scenario.planes[1], 0.0258, radians(111.1))});
  for (std::size_t p = 0; p < 2; ++p) {
    const Json& plane = solution["planes"][p];
    CHECK(std::abs(plane["residual_gmm"].get<double>() - 1e6 * std::abs(left[p])) <
          4.0 * plane["u_residual_gmm"].get<double>());
  }
}

TEST_CASE("the simulated rig still makes the demo's recordings, and they are small") {
  rigsim::Scenario scenario = rigsim::marrow_creek();
  auto recorded = rigsim::simulate(scenario.rig, scenario.shaft, rigsim::steady_spin(scenario, 5.0, 1));
  auto recording = open_recording(source_file("data/00-as-found.flac"));
  std::vector<double> samples(3 * recorded.channels[0].volts.size());
  REQUIRE(recording->read(samples) == recorded.channels[0].volts.size());
  // One step of the converter: the last bits of another machine's sine may tip a rounding.
  const double step = std::ldexp(1.0, -23) * 1.001;
  double worst = 0.0;
  for (std::size_t i = 0; i < samples.size(); ++i) {
    worst = std::max(worst, std::abs(samples[i] - recorded.channels[i % 3].volts[i / 3] / recorded.full_scale_V));
  }
  CHECK(worst <= step);
  std::uintmax_t bytes = 0;
  for (const auto& entry : std::filesystem::recursive_directory_iterator(source_file("data"))) {
    if (entry.is_regular_file()) bytes += entry.file_size();
  }
  CHECK(bytes < 3'000'000);
}
