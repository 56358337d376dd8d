#include "rig/rig_results.hpp"

#include <fmt/format.h>

#include <Eigen/LU>
#include <algorithm>
#include <cmath>

#include "counterspot/solve/solution.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

/// At the yardstick's speed, by |Z| ~ Ω^n.
Eigen::Vector2cd at_its_speed(const RigSpin& spin, const RigYardstick& yardstick) {
  SpinReading reading;
  reading.vectors = spin.vectors;
  reading.covariances.assign(spin.vectors.size(), Eigen::Matrix2d::Zero());
  reading.speed_rad_s = spin.speed_rad_s;
  const SpinReading brought = bring_to_speed(reading, yardstick.motions, yardstick.speed_rad_s);
  return {brought.vectors[0], brought.vectors[1]};
}

Eigen::Vector2cd sum_of(const PlannedRigSpin& planned, const RigSpin& spin) {
  Eigen::Vector2cd sum = Eigen::Vector2cd::Zero();
  for (const FittedWeight& piece : spin.fitted.value_or(planned.fitted)) sum(piece.plane) += piece.unbalance_kg_m();
  return sum;
}

/// By how much a factor is beside one, in size or in rad.
double beside_one(const Phasor& change) {
  return std::max(std::abs(std::abs(change) - 1.0), std::abs(std::arg(change)));
}

std::string change_words(const Rig& rig, const std::array<Phasor, 2>& change) {
  return fmt::format(
      "of the known masses sensor {} reads {:.3f} of what it should, turned by {:.1f} deg, and sensor {} "
      "{:.3f}, turned by {:.1f} deg",
      rig.sensors[0].name, std::abs(change[0]), degrees(std::arg(change[0])), rig.sensors[1].name, std::abs(change[1]),
      degrees(std::arg(change[1])));
}

/// Both alike is not a sensor's doing.
std::string change_remedy(const std::array<Phasor, 2>& change, double allowed) {
  const bool first = beside_one(change[0]) > allowed;
  const bool second = beside_one(change[1]) > allowed;
  if (first && second) return "; look at the pedestals' bolts, the masses and where they sit, then at the sensors";
  return first || second ? "; look at that sensor, its cable and its sensitivity in the rig file" : "";
}

RigCheck check_of(const RigWork& work, const RigYardstick& yardstick, const std::vector<PlannedRigSpin>& plan,
                  const std::vector<RigSpin>& spins) {
  const Rig& rig = work.rig();
  const Eigen::Vector2cd bare = at_its_speed(spins[0], yardstick);
  const Eigen::Vector2cd added = at_its_speed(spins[1], yardstick) - bare;
  const Eigen::Vector2cd wanted = yardstick.coefficients * sum_of(plan[1], spins[1]);
  const Eigen::Vector2cd recorded(yardstick.bare[0], yardstick.bare[1]);
  const Eigen::Vector2cd moved = yardstick.coefficients.inverse() * (bare - recorded);
  RigCheck check;
  for (Eigen::Index s : {0, 1}) {
    check.change[static_cast<std::size_t>(s)] = added(s) / wanted(s);
    check.moved_kg_m[static_cast<std::size_t>(s)] = moved(s);
  }
  const double sensor_change = rig.claims->sensor_change;
  const double changed = std::max(beside_one(check.change[0]), beside_one(check.change[1]));
  check.findings.push_back(finding_of(RigPlace::sensors, changed, sensor_change,
                                      change_words(rig, check.change) + change_remedy(check.change, sensor_change)));
  // Umar, and three standard deviations of how two mountings differ (common practice, no source).
  const double most = std::max({rig.claims->umar_kg_m, yardstick.umar_kg_m[0], yardstick.umar_kg_m[1]}) +
                      3.0 * std::sqrt(2.0) * yardstick.remount_kg_m;
  const double furthest = moved.cwiseAbs().maxCoeff();
  std::string words = fmt::format(
      "without masses the reference shaft reads {:.0f} g·mm at {} and {:.0f} g·mm at {} beside what it read when the "
      "rig was qualified",
      in_g_mm(std::abs(moved(0))), work.shaft().planes[0].name, in_g_mm(std::abs(moved(1))),
      work.shaft().planes[1].name);
  if (furthest > most) words += "; look at the adapters, their bolts and how the shaft sits in them";
  check.findings.push_back(finding_of(RigPlace::adapters, in_g_mm(furthest), in_g_mm(most), std::move(words)));
  check.within = std::all_of(check.findings.begin(), check.findings.end(),
                             [](const RigFinding& finding) { return finding.verdict == RigVerdict::passed; });
  return check;
}

Recalibration recalibration_of(const RigWork& work, const RigYardstick& yardstick,
                               const std::vector<PlannedRigSpin>& plan, const std::vector<RigSpin>& spins) {
  const Rig& rig = work.rig();
  const Eigen::Vector2cd bare = at_its_speed(spins[0], yardstick);
  Eigen::Matrix2cd alpha;
  for (Eigen::Index p : {0, 1}) {
    const auto k = static_cast<std::size_t>(p + 1);
    alpha.col(p) = (at_its_speed(spins[k], yardstick) - bare) / sum_of(plan[k], spins[k])(p);
  }
  const Eigen::Matrix2cd change = alpha * yardstick.coefficients.inverse();
  Recalibration result;
  result.change = {change(0, 0), change(1, 1)};
  result.cross_talk = std::max(std::abs(change(0, 1)), std::abs(change(1, 0)));
  for (std::size_t s : {0U, 1U})
    result.volts_per_si.push_back(rig.sensors[s].sensitivity.volts_per_si * std::abs(result.change[s]));
  const double turned = std::max(std::abs(std::arg(change(0, 0))), std::abs(std::arg(change(1, 1))));
  result.sound = turned <= rig.claims->sensor_change && result.cross_talk <= rig.claims->cross_talk;
  result.words = change_words(rig, result.change);
  result.words += result.sound ? "; if both are off alike, prove the pedestals before the sensors are blamed"
                               : fmt::format(
                                     "; a sensitivity explains no turn and no {:.0f} % of one sensor in the "
                                     "other: mend sensors and cables first",
                                     100.0 * result.cross_talk);
  return result;
}

}  // namespace

RigResult held_against_yardstick(const RigWork& work, const std::vector<PlannedRigSpin>& plan,
                                 const std::vector<RigSpin>& spins) {
  if (!work.yardstick) {
    throw Error(Trouble::request, "no_yardstick",
                fmt::format("rig {} was never qualified with this reference shaft", work.rig().name),
                "qualify it first: 'rig qualify'");
  }
  if (spins.size() != plan.size())
    throw Error(Trouble::request, "spins_missing", fmt::format("{} of {} spins are made", spins.size(), plan.size()),
                "make the spins that are asked for");
  if (work.task == RigTask::check) return check_of(work, *work.yardstick, plan, spins);
  return recalibration_of(work, *work.yardstick, plan, spins);
}

RigFinding finding_of(RigPlace place, double measured, double allowed, std::string words) {
  return {place, measured <= allowed ? RigVerdict::passed : RigVerdict::failed, measured, allowed, std::move(words)};
}

bool failed(const std::vector<RigFinding>& findings, RigPlace place) {
  return std::any_of(findings.begin(), findings.end(), [&](const RigFinding& finding) {
    return finding.place == place && finding.verdict == RigVerdict::failed;
  });
}

void refuse_unless_two_planes(const Shaft& reference) {
  if (reference.planes.size() == 2) return;
  throw Error(Trouble::request, "not_two_planes",
              fmt::format("the reference shaft {} has {} planes, and a rig is qualified in two", reference.id,
                          reference.planes.size()),
              "state two planes");
}

}  // namespace counterspot
