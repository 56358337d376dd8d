#pragma once

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <random>
#include <string>
#include <vector>

#include "counterspot/guide/guide.hpp"
#include "counterspot/log/log.hpp"
#include "counterspot/rig_model/rig_model.hpp"
#include "counterspot/units/angle.hpp"

namespace counterspot::test {

/// One-offs on one soft rig, in a log. They behave as the program's own model of a rig says, with clampings that differ
/// by 2 %: for what keeps and asks, not for whether the model is right.
class MadeUpShop {
 public:
  /// @param attached a body of 0.8 kg swings by itself on pedestal A, at 24 Hz.
  explicit MadeUpShop(std::string rig = "bay 2", bool attached = false) : rig_(std::move(rig)), attached_(attached) {}

  /// As a shop would write it, with more sections behind.
  std::string rig_text(const std::string& more = "") const {
    return "[rig]\nname = \"" + rig_ +
           "\"\nrotation = \"counter-clockwise\"\nviewing_end = \"A\"\n[tach]\nchannel = 3\n"
           "[[sensor]]\nname = \"A\"\nchannel = 1\nsensitivity = \"100 mV/g\"\n"
           "[[sensor]]\nname = \"B\"\nchannel = 2\nsensitivity = \"100 mV/g\"\n" +
           more;
  }

  double uniform(double least, double most) { return std::uniform_real_distribution<double>(least, most)(random_); }
  double normal() { return std::normal_distribution<double>()(random_); }

  std::string shaft_text(int number) {
    const double length_mm = uniform(600.0, 1700.0);
    const double mass_kg = 4.5e-3 * length_mm + uniform(3.0, 7.0);
    return fmt::format(
        "[shaft]\nid = \"PS-{}\"\nmass = \"{:.2f} kg\"\nservice_speed = \"3200 rpm\"\ngrade = \"G16\"\n[tube]\n"
        "outside_diameter = \"88.9 mm\"\nwall = \"2.1 mm\"\nlength = \"{:.1f} mm\"\n[supports]\nA = \"-50 mm\"\n"
        "B = \"{:.1f} mm\"\n[[plane]]\nname = \"A\"\nposition = \"60 mm\"\nradius = \"46 mm\"\n"
        "[[plane]]\nname = \"B\"\nposition = \"{:.1f} mm\"\nradius = \"46 mm\"\n",
        number, mass_kg, length_mm, length_mm + 50.0, length_mm - 60.0);
  }

  /// As found, a trial in both planes, another.
  Job spun_job(Log& log, int number, int spins, std::int64_t at) {
    Job job = log.open_job({"rig.toml", rig_text(), "shaft.toml", shaft_text(number), "counterspot 0.1.0", at});
    const Mounted mounted = mount(job.shaft());
    std::vector<FittedWeight> on;
    for (int k = 0; k < spins; ++k) {
      if (k > 0) {
        on.push_back({k == 1 ? 0 : 1, 0.02, 0.046, uniform(0.0, 6.0)});
        job = log.append(job, Fitted{on}, "counterspot 0.1.0", at += 60);
      }
      job = log.append(job, read(mounted, on), "counterspot 0.1.0", at += 60);
    }
    return job;
  }

  /// As found, what is then to be fitted, and the spin that verifies it, all as the program keeps it; then closed.
  Job corrected_job(Log& log, int number, std::int64_t at) {
    Job job = log.open_job({"rig.toml", rig_text(), "shaft.toml", shaft_text(number), "counterspot 0.1.0", at});
    const Mounted mounted = mount(job.shaft());
    job = keep_spin(log, job, read(mounted, {}), "counterspot 0.1.0", at += 60);
    std::vector<FittedWeight> on;
    for (const PlaneFinding& plane : std::get<Spun>(job.events.back().what).finding.value().planes)
      on.push_back({static_cast<int>(on.size()), plane.correction_kg, plane.radius_m, plane.angle_rad});
    job = log.append(job, Fitted{on}, "counterspot 0.1.0", at += 60);
    job = keep_spin(log, job, read(mounted, on), "counterspot 0.1.0", at += 60);
    return log.append(job, closing_of(known_job(log, job), "made up"), "counterspot 0.1.0", at += 60);
  }

 private:
  static constexpr double reading_noise = 0.002;
  static constexpr std::array<Motion, 2> accelerometers{Motion::acceleration, Motion::acceleration};

  /// A shaft as it is clamped once.
  struct Mounted {
    double speed_rad_s = 0.0;
    Eigen::VectorXd alpha;
    std::array<Phasor, 2> found;
    double noise = 0.0;
  };
  Mounted mount(const Shaft& shaft) {
    const double speed_rad_s = rad_per_s(uniform(1000.0, 2000.0));
    const Eigen::VectorXd alpha = rig_coefficients(clamped(), *dynamics_of(shaft), speed_rad_s, accelerometers);
    const std::array<Phasor, 2> found{std::polar(2e-3, uniform(0.0, 6.0)), std::polar(2e-3, uniform(0.0, 6.0))};
    return {speed_rad_s, alpha, found, reading_noise * 2e-3 * alpha.cwiseAbs().maxCoeff()};
  }

  Eigen::VectorXd clamped() {
    const RigBodies bodies{.attached = attached_ ? 1 : 0};
    Eigen::VectorXd theta = Eigen::VectorXd::Zero(bodies.parameters());
    const double rate = turn_rad * 9.0;
    for (Eigen::Index i = 0; i < 2; ++i) {
      theta(RigParameters::ln_mass(i)) = std::log(4.0) + 0.02 * normal();
      theta(RigParameters::ln_stiffness(i)) = std::log(12.0 * rate * rate) + 0.02 * normal();
      theta(RigParameters::ln_damping(i)) = std::log(0.1 * 12.0 * rate) + 0.02 * normal();
      theta(RigParameters::gain_rad(i)) = 0.7;
    }
    if (attached_) {
      theta.tail<RigParameters::of_attached>() << std::sqrt(0.8), 0.0, std::log(24.0), std::log(0.08);
    }
    return theta;
  }
  Spun read(const Mounted& mounted, const std::vector<FittedWeight>& on) {
    const auto& [speed_rad_s, alpha, found, noise] = mounted;
    Spun spun;
    spun.label = "spin";
    spun.speed_rad_s = speed_rad_s;
    std::array<Phasor, 2> unbalance = found;
    for (const FittedWeight& piece : on)
      unbalance[static_cast<std::size_t>(piece.plane)] += piece.unbalance_kg_m() * (1.0 + 0.01 * normal());
    for (Eigen::Index s = 0; s < 2; ++s) {
      Phasor value(noise * normal(), noise * normal());
      for (Eigen::Index p = 0; p < 2; ++p)
        value += Phasor(alpha(4 * s + 2 * p), alpha(4 * s + 2 * p + 1)) * unbalance[static_cast<std::size_t>(p)];
      spun.readings.push_back(
          {s == 0 ? "A" : "B", Motion::acceleration, value, noise * noise * Eigen::Matrix2d::Identity()});
    }
    return spun;
  }

  std::string rig_;
  bool attached_;
  std::mt19937_64 random_{20261128};
};

}  // namespace counterspot::test
