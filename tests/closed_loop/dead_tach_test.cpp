// A spin whose tach is dead: the amplitude by the spectrum and least squares, against the same spin with its tach, and
// against what is really there.
#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <nlohmann/json.hpp>

#include "counterspot/files/files.hpp"
#include "counterspot/tracking/amplitude_track.hpp"
#include "counterspot/tracking/tracking.hpp"
#include "counterspot/units/error.hpp"
#include "rigsim/dynamics.hpp"
#include "rigsim/random.hpp"
#include "rigsim/scenario.hpp"
#include "rigsim/simulate.hpp"
#include "rigsim/write.hpp"
#include "support.hpp"
#include "tracking/memory_recording.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

constexpr double spin_s = 8.0;
constexpr double same_amplitude = 0.02;  // without the tach the speed's hunting within a stretch is not followed
constexpr double same_speed = 0.001;

Rig rig_of(const rigsim::Scenario& scenario) {
  const TemporaryFolder folder;
  return read_rig(write_file(folder / "rig.toml", rigsim::rig_toml(scenario)));
}

rigsim::Recorded recorded_spin(const rigsim::Scenario& scenario, const std::vector<rigsim::UnbalanceSlice>& fitted,
                               std::uint64_t seed) {
  rigsim::SpinTruth truth = rigsim::steady_spin(scenario, spin_s, seed);
  truth.fitted = fitted;
  return rigsim::simulate(scenario.rig, scenario.shaft, truth);
}

void kill_tach(rigsim::Recorded& recorded) {
  auto& tach = recorded.channels.back().volts;
  std::fill(tach.begin(), tach.end(), 0.2);
}

MemoryRecording in_memory(const rigsim::Recorded& recorded) {
  std::vector<std::vector<double>> channels;
  for (const auto& channel : recorded.channels) channels.push_back(channel.volts);
  return {recorded.sample_rate_Hz, channels};
}

}  // namespace

TEST_CASE("without a tach the amplitude and the speed are those that the tach would have shown") {
  for (std::uint64_t seed = 500; seed < 508; ++seed) {
    CAPTURE(seed);
    const rigsim::Scenario scenario = rigsim::random_scenario(seed, 5.0);
    const Rig rig = rig_of(scenario);
    rigsim::Recorded recorded = recorded_spin(scenario, {}, seed);
    MemoryRecording whole = in_memory(recorded);
    const Track with_tach = track(whole, rig);
    kill_tach(recorded);
    MemoryRecording dead = in_memory(recorded);
    CHECK_THROWS_AS(track(dead, rig), Error);
    for (const bool stated : {false, true}) {
      dead.rewind();
      const auto about = stated ? std::optional(1.05 * with_tach.speed_rad_s) : std::nullopt;
      const AmplitudeTrack found = track_amplitudes(dead, rig, about);
      CHECK(found.speed_found == !stated);
      CHECK(found.speed_rad_s == Approx(with_tach.speed_rad_s).epsilon(same_speed));
      for (std::size_t s = 0; s < rig.sensors.size(); ++s) {
        const double wanted = std::abs(with_tach.sensors[s].orders.front().value);
        CHECK(std::abs(found.amplitudes[s] - wanted) < same_amplitude * wanted + 3.0 * found.u_amplitudes[s]);
      }
    }
  }
}

TEST_CASE("a recording in which nothing turns is refused, and so is one that is too short") {
  const rigsim::Scenario scenario = rigsim::marrow_creek();
  const Rig rig = rig_of(scenario);
  auto code_of = [&](const std::vector<std::vector<double>>& channels) {
    try {
      MemoryRecording recording(5120.0, channels);
      track_amplitudes(recording, rig);
    } catch (const Error& error) {
      return error.code();
    }
    return std::string();
  };
  rigsim::Random random(1, 2);
  std::vector<double> noise(40960);
  for (double& value : noise) value = 0.01 * random.normal();
  CHECK(code_of({noise, noise, noise}) == "no_line");
  const std::vector<double> brief(1024, 0.0);
  CHECK(code_of({brief, brief, brief}) == "too_short_for_order");
}

TEST_CASE("six recordings with a dead tach tell what to weld, as the supports feel it") {
  const rigsim::Scenario scenario = rigsim::random_scenario(7, 5.0);
  const TemporaryFolder folder;
  write_file(folder / "rig.toml", rigsim::rig_toml(scenario));
  write_file(folder / "shaft.toml", rigsim::shaft_toml(scenario));
  const double trial_kg_m = 2.0 * rigsim::g16_total_kg_m(scenario);
  std::string file = "rig = \"rig.toml\"\nshaft = \"shaft.toml\"\n";
  auto add = [&](const std::vector<std::pair<int, double>>& pieces) {
    std::vector<rigsim::UnbalanceSlice> fitted;
    std::string stated;
    for (const auto& [plane, angle_deg] : pieces) {
      const rigsim::PlaneTruth& at = scenario.planes[static_cast<std::size_t>(plane)];
      fitted.push_back(rigsim::piece_at(at, trial_kg_m / at.radius_m, radians(angle_deg)));
      stated +=
          fmt::format("{}{{ plane = \"{}\", mass = \"{:.6f} g\", angle = \"{} deg\" }}", stated.empty() ? "" : ", ",
                      plane == 0 ? "A" : "B", 1e3 * trial_kg_m / at.radius_m, angle_deg);
    }
    const auto number = std::count(file.begin(), file.end(), '[');
    rigsim::Recorded recorded = recorded_spin(scenario, fitted, 40 + static_cast<std::uint64_t>(number));
    kill_tach(recorded);
    const std::string name = fmt::format("{}.wav", number);
    rigsim::write_recording(folder / name, recorded);
    file += fmt::format("[[spin]]\nlabel = \"{0}\"\nrecording = \"{0}\"\n", name);
    if (!stated.empty()) file += "fitted = [ " + stated + " ]\n";
  };
  add({{0, 0.0}});
  add({{0, 120.0}});
  add({{1, 0.0}});
  add({{1, 120.0}});
  add({{0, 240.0}, {1, 240.0}});
  add({});
  const Ran ran = run_program(
      {"solve", write_file(folder / "spins.toml", file).string(), "--no-phase", "--json", "--speed-tolerance", "2"});
  INFO(ran.err);
  REQUIRE((ran.exit_code == 0 || ran.exit_code == 1));
  const auto solved = nlohmann::json::parse(ran.out);
  CHECK(solved["speeds_rpm"].size() == 6);
  CHECK(solved["speeds_rpm"][0].get<double>() == Approx(rpm(scenario.balancing_rad_s)).epsilon(0.02));
  const auto felt = rigsim::equivalent_at_speed(scenario.rig, scenario.shaft, {}, scenario.plane_positions_m(),
                                                scenario.balancing_rad_s);
  for (std::size_t p : {0U, 1U}) {
    const auto& plane = solved["answers"][0]["planes"][p];
    const Phasor found =
        std::polar(plane["residual_gmm"].get<double>() * 1e-6, radians(plane["residual_angle_deg"].get<double>()));
    CHECK(std::abs(found - felt[p]) < 0.05 * (std::abs(felt[0]) + std::abs(felt[1])));
  }
}
