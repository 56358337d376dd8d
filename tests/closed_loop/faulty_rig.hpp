#pragma once

#include "counterspot/files/files.hpp"
#include "counterspot/rig/qualification.hpp"
#include "rigsim/dynamics.hpp"
#include "rigsim/random.hpp"
#include "rigsim/scenario.hpp"
#include "rigsim/write.hpp"
#include "support.hpp"

namespace counterspot::test {

/// What is wrong with the rig.
struct Fault {
  double pedestal = 1.0;           ///< stiffness of pedestal A, of what it was
  double loose_sensor = 0.0;       ///< from spin to spin, of sensor A's reading, one standard deviation
  double sensitivity = 1.0;        ///< of sensor A, of what the rig file says
  double cross_talk = 0.0;         ///< of sensor A in sensor B
  double worn_adapter_umar = 0.0;  ///< at support A from mounting to mounting, one standard deviation of each part
};

inline constexpr double hard_pedestals = 88.0;  // times the stiffness of the demonstration's: 80 to 100 Hz
inline constexpr double soft_pedestals = 1.0;   // as they are: 8.5 and 10.5 Hz

/// A rig with a balanced reference shaft, on which spins are made as they are asked for.
struct FaultyRig {
  explicit FaultyRig(const Fault& planted, std::uint64_t seed = 77, double stiffer = hard_pedestals)
      : scenario(rigsim::marrow_creek()), fault(planted), random(seed, 600) {
    TemporaryFolder folder;
    rig = read_rig(write_file(folder / "rig.toml", rigsim::rig_toml(scenario)));
    reference = read_shaft(write_file(folder / "shaft.toml", rigsim::shaft_toml(scenario)));
    for (auto& slice : scenario.shaft.slices) slice.unbalance_kg_m *= 0.05;  // a reference shaft is balanced
    for (auto& pedestal : scenario.rig.pedestals) pedestal.stiffness_N_m *= stiffer;
    scenario.rig.pedestals[0].stiffness_N_m *= fault.pedestal;
    claims.umar_kg_m = 80e-6;
  }

  /// The adapters are out by 2 Umar; if they are worn, each mounting adds its own.
  RigSpin spin(const PlannedRigSpin& planned) {
    Phasor mounted_kg_m = 2.0 * claims.umar_kg_m;
    if (planned.place == RigPlace::adapters)
      mounted_kg_m += fault.worn_adapter_umar * claims.umar_kg_m * Phasor(random.normal(), random.normal());
    const double speed = scenario.balancing_rad_s * planned.speed_fraction * (1.0 + 0.0002 * random.normal());
    std::vector<rigsim::UnbalanceSlice> extra = {
        {scenario.shaft.support_a_m, mounted_kg_m * std::polar(1.0, -planned.turned_rad)}};
    for (const FittedWeight& piece : planned.fitted)  // test masses sit in drilled holes, as good as exact
      extra.push_back(rigsim::piece_at(scenario.planes[static_cast<std::size_t>(piece.plane)],
                                       piece.mass_kg * (1.0 + 0.002 * random.normal()), piece.angle_rad));
    RigSpin made{rigsim::steady_vectors(scenario.rig, scenario.shaft, extra, speed), {}, speed};
    made.vectors[0] *= fault.sensitivity * (1.0 + fault.loose_sensor * random.normal());
    made.vectors[1] += fault.cross_talk * made.vectors[0];
    for (std::size_t s = 0; s < 2; ++s) {
      const double u = scenario.rig.sensors[s].noise_si_rtHz / 2.0;  // of 4 s
      made.vectors[s] += u * Phasor(random.normal(), random.normal());
      made.covariances.emplace_back(u * u * Eigen::Matrix2d::Identity());
    }
    return made;
  }

  rigsim::Scenario scenario;
  Fault fault;
  rigsim::Random random;
  Rig rig;
  Shaft reference;
  RigClaims claims;
};

}  // namespace counterspot::test
