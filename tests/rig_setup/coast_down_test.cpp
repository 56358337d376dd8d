// What a coast-down shows of rigs whose pedestals and shaft are known: the simulation's own equations of motion are the
// truth, with pedestals that damp differently, two resonances that may overlap, joints' order 2, noise and hum.
#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <cmath>

#include "counterspot/files/files.hpp"
#include "counterspot/tracking/sweep.hpp"
#include "counterspot/units/coverage.hpp"
#include "owner.hpp"
#include "rigsim/write.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

struct Held {
  int count = 0, speed = 0, damping = 0, none = 0;
  double widest = 0.0;  ///< ± of a speed, of the speed

  void add(const Resonance& found, const std::vector<rigsim::ModeTruth>& modes) {
    const auto& truth = *std::ranges::min_element(
        modes, {}, [&](const rigsim::ModeTruth& mode) { return std::abs(mode.natural_rad_s - found.speed_rad_s); });
    const double off_rad_s = std::abs(found.speed_rad_s - truth.natural_rad_s);
    if (off_rad_s > 0.1 * truth.natural_rad_s) {
      ++none;
      return;
    }
    ++count;
    speed += off_rad_s <= coverage_factor * found.u_speed_rad_s ? 1 : 0;
    damping += std::abs(found.damping_ratio - truth.damping_ratio) <= coverage_factor * found.u_damping_ratio ? 1 : 0;
    widest = std::max(widest, coverage_factor * found.u_speed_rad_s / found.speed_rad_s);
  }
};

}  // namespace

TEST_CASE("the ± of a resonance holds 95 % on coast-downs of two-pedestal rigs, soft and hard, quick and slow",
          "[long]") {
  Held held;
  int wanted = 0;
  const TemporaryFolder folder;
  const auto file = folder / "coast.wav";
  for (std::uint64_t seed = 300; seed < 340; ++seed) {
    const rigsim::FirstDay day = rigsim::random_first_day(seed);
    Owner owner(day);
    const SetupStanding standing = owner.set_up();
    if (standing.rig_text.empty()) continue;
    const Rig rig = read_rig_text(standing.rig_text.en, "rig.toml");
    for (const double seconds : {15.0, 45.0}) {
      rigsim::write_recording(file, rigsim::coast_down(day, rigsim::top_rad_s(day), {}, 60, seconds));
      const Sweep found = sweep(*open_recording(file), rig);
      wanted += 2;
      // both sensors say the same of a mode, so that it counts once
      for (const Resonance& each : found.resonances) {
        if (each.sensor == found.resonances.front().sensor) held.add(each, rigsim::modes_of(day));
      }
    }
  }
  WARN(
      fmt::format("{} resonances of the pedestals, {} found, {} that are none; within ±: speed {:.1f} %, damping "
                  "{:.1f} %; the widest ± is {:.1f} % of the speed",
                  wanted, held.count, held.none, 100.0 * held.speed / held.count, 100.0 * held.damping / held.count,
                  100.0 * held.widest));
  CHECK(held.count > 0.65 * wanted);
  CHECK(held.none < 0.03 * held.count);
  CHECK(held.speed >= 0.95 * held.count);
  CHECK(held.damping >= 0.95 * held.count);
  CHECK(held.widest < 0.03);
}
