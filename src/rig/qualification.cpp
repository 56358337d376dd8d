#include "counterspot/rig/qualification.hpp"

#include <fmt/format.h>

#include <Eigen/LU>
#include <algorithm>
#include <cmath>

#include "algebra/pseudo_inverse.hpp"
#include "counterspot/solve/solution.hpp"
#include "counterspot/units/error.hpp"
#include "rig/rig_results.hpp"

namespace counterspot {

namespace {

constexpr std::size_t calibrating = 3;
constexpr std::size_t positions = 12;
constexpr std::size_t travelling = 11;
constexpr std::size_t at_speeds = 4;
constexpr std::size_t turned_mountings = 4;
constexpr double step_rad = turn_rad / 12.0;

FittedWeight mass_at(const Shaft& shaft, int plane, double unbalance_kg_m, double angle_rad) {
  const double radius_m = shaft.planes[static_cast<std::size_t>(plane)].radius_m;
  return {plane, unbalance_kg_m / radius_m, radius_m, wrap_positive(angle_rad)};
}

/// What a test mass added: the reading less that of the shaft without any.
Eigen::Vector2cd added_by(const RigSpin& spin, const RigSpin& bare) {
  return {spin.vectors[0] - bare.vectors[0], spin.vectors[1] - bare.vectors[1]};
}

Eigen::Vector2cd unbalance_of(const std::vector<FittedWeight>& fitted) {
  Eigen::Vector2cd sum = Eigen::Vector2cd::Zero();
  for (const FittedWeight& piece : fitted) sum(piece.plane) += piece.unbalance_kg_m();
  return sum;
}

/// Everything a finding is made from.
struct Bench {
  const RigClaims& claims;
  const std::vector<PlannedRigSpin>& plan;
  const std::vector<RigSpin>& spins;
  const std::vector<Motion>& motions;
  Eigen::Matrix2cd alpha;

  Eigen::Vector2cd read(std::size_t k) const { return alpha.inverse() * added_by(spins[k], spins[0]); }
};

Eigen::Matrix2cd calibrated(const std::vector<PlannedRigSpin>& plan, const std::vector<RigSpin>& spins) {
  Eigen::Matrix2cd alpha;
  for (Eigen::Index p = 0; p < 2; ++p) {
    const auto k = static_cast<std::size_t>(p + 1);
    alpha.col(p) = added_by(spins[k], spins[0]) / unbalance_of(plan[k].fitted)(p);
  }
  return alpha;
}

/// Readings over their mean within 0.88 and 1.12, one of the twelve in each plane excepted (ISO 21940-21, from memory).
RigFinding judge_smallest(const Bench& bench, Qualification& result) {
  double worst = 0.0;
  for (Eigen::Index p = 0; p < 2; ++p) {
    std::vector<double> readings;
    double mean = 0.0;
    double squared = 0.0;
    for (std::size_t k = calibrating; k < calibrating + positions; ++k) {
      const Eigen::Vector2cd read = bench.read(k);
      readings.push_back(std::abs(read(p)));
      mean += readings.back() / positions;
      squared += std::norm(read(p) - unbalance_of(bench.plan[k].fitted)(p)) / (2.0 * positions);
    }
    for (double& reading : readings) {
      result.small_over_mean[static_cast<std::size_t>(p)].push_back(reading / mean);
      reading = std::abs(reading / mean - 1.0);
    }
    std::sort(readings.begin(), readings.end());
    worst = std::max(worst, readings[positions - 2]);
    result.umar_kg_m[static_cast<std::size_t>(p)] = 2.0 * std::sqrt(squared);
  }
  return finding_of(
      RigPlace::smallest_residual, worst, small_mass_band,
      fmt::format("readings of a small test mass lie within {:.1f} % of their mean, one excepted; if more "
                  "than 12 %, look for a loose sensor, cable or pedestal bolt",
                  100.0 * worst));
}

/// 1 − |read − true|/|true|: what one correction would leave.
RigFinding judge_reduction(const Bench& bench, Qualification& result) {
  result.reduction = 1.0;
  for (std::size_t k = calibrating + positions; k < calibrating + positions + travelling; ++k) {
    const Eigen::Vector2cd real = unbalance_of(bench.plan[k].fitted);
    const Eigen::Vector2cd read = bench.read(k);
    for (Eigen::Index p = 0; p < 2; ++p) {
      const double reduction = 1.0 - std::abs(read(p) - real(p)) / std::abs(real(p));
      result.reductions[static_cast<std::size_t>(p)].push_back(reduction);
      result.reduction = std::min(result.reduction, reduction);
    }
  }
  return finding_of(
      RigPlace::reduction, 1.0 - result.reduction, 1.0 - bench.claims.reduction,
      fmt::format("one correction takes away {:.1f} % of the unbalance at least; if too little, check the "
                  "test masses and the angles they were set at",
                  100.0 * result.reduction));
}

/// What a test mass reads at another speed, brought to the balancing speed by the rule, over what it reads there.
struct AtAnotherSpeed {
  double log_ratio = 0.0;  ///< ln of the speed over the balancing speed
  Phasor over_expected;
};

std::vector<AtAnotherSpeed> at_other_speeds(const Bench& bench) {
  std::vector<AtAnotherSpeed> found;
  const std::size_t first = calibrating + positions + travelling;
  for (std::size_t k = first; k < first + at_speeds; k += 2) {
    SpinReading reading{"", {}, {}, {Eigen::Matrix2d::Zero(), Eigen::Matrix2d::Zero()}, bench.spins[k].speed_rad_s};
    const Eigen::Vector2cd change = added_by(bench.spins[k + 1], bench.spins[k]);
    reading.vectors = {change(0), change(1)};
    const SpinReading brought = bring_to_speed(reading, bench.motions, bench.spins[0].speed_rad_s);
    const Eigen::Vector2cd expected = bench.alpha * unbalance_of(bench.plan[k + 1].fitted);
    for (std::size_t s : {0U, 1U}) {
      found.push_back({std::log(bench.spins[k].speed_rad_s / bench.spins[0].speed_rad_s),
                       brought.vectors[s] / expected(static_cast<Eigen::Index>(s))});
    }
  }
  return found;
}

/// The rule's power of the speed is the one between soft pedestals (one less) and stiff ones (one more), see
/// growth_exponent. A rig far from its resonances shows one of these, and is not to be told that it lies 10 % beside
/// the middle: by least squares, how far its power is from the middle, within the two.
double power_from_the_middle(const std::vector<AtAnotherSpeed>& readings) {
  double along = 0.0;
  double squared = 0.0;
  for (const AtAnotherSpeed& reading : readings) {
    along += reading.log_ratio * std::log(std::abs(reading.over_expected));
    squared += reading.log_ratio * reading.log_ratio;
  }
  return squared > 0.0 ? std::clamp(along / squared, -1.0, 1.0) : 0.0;
}

RigFinding judge_speed(const Bench& bench) {
  const std::vector<AtAnotherSpeed> readings = at_other_speeds(bench);
  const double power = power_from_the_middle(readings);
  double worst = 0.0;
  for (const AtAnotherSpeed& reading : readings) {
    const double beside = std::abs(reading.over_expected * std::exp(-power * reading.log_ratio) - 1.0);
    worst = std::max(worst, std::isfinite(beside) ? beside : INFINITY);  // of no mass nothing is shown
  }
  return finding_of(
      RigPlace::speed, worst, bench.claims.speed_effect,
      fmt::format("10 % of speed changes a test mass's reading by {:.0f} % beside the rule; if too much, a "
                  "pedestal is near its resonance: look for one that is loose or has softened",
                  100.0 * worst));
}

/// Z = Z_s + e^{−jγ} B over four mountings; what is left is how they differ.
RigFinding judge_adapters(const Bench& bench, Qualification& result) {
  const std::size_t first = bench.plan.size() - turned_mountings;
  Eigen::Matrix<Phasor, 4, 2> readings;
  Eigen::Matrix<Phasor, 4, 2> rows;
  for (Eigen::Index k = 0; k < 4; ++k) {
    const std::size_t at = first + static_cast<std::size_t>(k);
    rows.row(k) << 1.0, phasor_at(1.0, -bench.plan[at].turned_rad);
    readings.row(k) << bench.spins[at].vectors[0], bench.spins[at].vectors[1];
  }
  const Eigen::Matrix2cd found = pseudo_inverse(Eigen::MatrixXcd(rows)) * readings;
  const Eigen::Matrix<Phasor, 2, 4> left = bench.alpha.inverse() * (readings - rows * found).transpose();
  const Eigen::Vector2cd adapters = bench.alpha.inverse() * found.row(1).transpose();
  result.adapters_kg_m = {adapters(0), adapters(1)};
  result.remount_kg_m = std::sqrt(left.cwiseAbs2().rowwise().sum().maxCoeff() / (2.0 * 2.0));  // 2 of 4 are left
  const double scatter = result.remount_kg_m / bench.claims.umar_kg_m;
  const double share = adapters.cwiseAbs().maxCoeff() / (bench.claims.adapters_over_umar * bench.claims.umar_kg_m);
  return finding_of(
      RigPlace::adapters, std::max(scatter, share), 1.0,
      fmt::format("mountings differ by {:.1f} g·mm, and the adapters are out by {:.1f} g·mm; if too much, "
                  "look at pilots, bolts and runout of the adapters",
                  in_g_mm(result.remount_kg_m), in_g_mm(adapters.cwiseAbs().maxCoeff())));
}

/// Against the record α_now = C·α_record: C's diagonal is what each sensor has changed by, the rest is cross-talk.
void judge_sensors(const Bench& bench, const Eigen::Matrix2cd& record, std::vector<RigFinding>& findings) {
  const Eigen::Matrix2cd change = bench.alpha * record.inverse();
  // In readings of the size the record gives, so that cross-talk is of the sensor that hears it.
  const double changed = std::max(std::abs(change(0, 0) - 1.0), std::abs(change(1, 1) - 1.0));
  const double heard = std::max(std::abs(change(0, 1)), std::abs(change(1, 0)));
  findings.push_back(finding_of(
      RigPlace::sensors, changed, bench.claims.sensor_change,
      fmt::format(
          "against the record sensor 1 reads {:.3f} and sensor 2 {:.3f} of what it did; if one is off, write its "
          "sensitivity times that into the rig file, or mend it",
          std::abs(change(0, 0)), std::abs(change(1, 1)))));
  findings.push_back(finding_of(RigPlace::separation, heard, bench.claims.cross_talk,
                                fmt::format("{:.1f} % of one sensor shows in the other beyond the record; if too much, "
                                            "look at cables, plugs and the recorder's inputs",
                                            100.0 * heard)));
}

RigFinding not_judged(RigPlace place, const std::string& why) {
  return {place, RigVerdict::not_judged, 0.0, 0.0, why};
}

void leave_out(std::vector<RigFinding>& findings, RigPlace place, const std::string& why) {
  for (RigFinding& finding : findings)
    if (finding.place == place) finding = not_judged(place, why);
}

/// One fault must not be told as several.
void keep_to_the_cause(std::vector<RigFinding>& findings) {
  if (failed(findings, RigPlace::smallest_residual)) {
    for (RigPlace place :
         {RigPlace::sensors, RigPlace::separation, RigPlace::reduction, RigPlace::speed, RigPlace::adapters})
      leave_out(findings, place, "not judged, since the rig does not repeat its readings");
  } else if (failed(findings, RigPlace::speed)) {
    for (RigPlace place : {RigPlace::sensors, RigPlace::separation})
      leave_out(findings, place, "not judged, since what a pedestal does is not a sensor's doing");
  }
}

}  // namespace

std::string_view rig_place_name(RigPlace place) {
  switch (place) {
    case RigPlace::sensors: return "sensors";
    case RigPlace::separation: return "plane separation";
    case RigPlace::smallest_residual: return "smallest achievable residual unbalance";
    case RigPlace::reduction: return "unbalance reduction ratio";
    case RigPlace::speed: return "effect of speed";
    case RigPlace::adapters: return "adapters";
  }
  return "sensors";
}

std::string_view rig_verdict_name(RigVerdict verdict) {
  switch (verdict) {
    case RigVerdict::passed: return "passed";
    case RigVerdict::failed: return "failed";
    case RigVerdict::not_judged: return "not judged";
  }
  return "not judged";
}

std::vector<PlannedRigSpin> qualification_plan(const Shaft& reference, const RigClaims& claims) {
  refuse_unless_two_planes(reference);
  std::vector<PlannedRigSpin> plan;
  auto add = [&](RigPlace place, std::vector<FittedWeight> fitted, double speed_fraction = 1.0,
                 double turned_rad = 0.0) {
    plan.push_back({place, std::move(fitted), speed_fraction, turned_rad});
  };
  auto mass = [&](int plane, double times, double angle_rad) {
    return mass_at(reference, plane, times * claims.umar_kg_m, angle_rad);
  };
  add(RigPlace::sensors, {});
  for (int plane : {0, 1}) add(RigPlace::sensors, {mass(plane, 50.0, 0.0)});
  for (std::size_t i = 0; i < positions; ++i) {
    const double angle = step_rad * static_cast<double>(i);
    add(RigPlace::smallest_residual, {mass(0, 5.0, angle), mass(1, 5.0, angle + 3.0 * step_rad)});
  }
  for (std::size_t i = 1; i <= travelling; ++i) {
    const double angle = step_rad * static_cast<double>(i);
    add(RigPlace::reduction, {mass(0, 20.0, 0.0), mass(0, 100.0, angle), mass(1, 20.0, 6.0 * step_rad),
                              mass(1, 100.0, 6.0 * step_rad - angle)});
  }
  for (double fraction : {0.9, 1.1}) {
    add(RigPlace::speed, {}, fraction);
    add(RigPlace::speed, {mass(0, 50.0, 0.0), mass(1, 50.0, 3.0 * step_rad)}, fraction);
  }
  for (std::size_t i = 0; i < turned_mountings; ++i)
    add(RigPlace::adapters, {}, 1.0, 0.25 * turn_rad * static_cast<double>(i));
  return plan;
}

Qualification qualify(const Rig& rig, const Shaft& reference, const RigClaims& claims,
                      const std::vector<RigSpin>& spins, const std::vector<Motion>& motions,
                      const std::optional<Eigen::Matrix2cd>& record) {
  std::vector<PlannedRigSpin> plan = qualification_plan(reference, claims);
  if (spins.size() != plan.size() || rig.sensors.size() != 2) {
    throw Error(Trouble::request, "spins_missing",
                fmt::format("{} of {} spins are made, with {} sensors", spins.size(), plan.size(), rig.sensors.size()),
                "make the spins that are asked for, with two sensors");
  }
  for (std::size_t k = 0; k < plan.size(); ++k)
    if (spins[k].fitted) plan[k].fitted = *spins[k].fitted;
  Qualification result;
  result.coefficients = calibrated(plan, spins);
  if (!(std::abs(result.coefficients.determinant()) > 1e-6 * result.coefficients.squaredNorm())) {
    throw Error(Trouble::request, "planes_alike", "the test masses do not tell the planes apart",
                "check that they were on the shaft, and the cables");
  }
  const Bench bench{claims, plan, spins, motions, result.coefficients};
  if (record) {
    judge_sensors(bench, *record, result.findings);
  } else {
    const std::string first_time = "the first qualification of this rig: this becomes the record";
    for (RigPlace place : {RigPlace::sensors, RigPlace::separation})
      result.findings.push_back(not_judged(place, first_time));
  }
  result.findings.push_back(judge_smallest(bench, result));
  result.findings.push_back(judge_reduction(bench, result));
  result.findings.push_back(judge_speed(bench));
  result.findings.push_back(judge_adapters(bench, result));
  keep_to_the_cause(result.findings);
  result.passed = std::none_of(result.findings.begin(), result.findings.end(),
                               [](const RigFinding& finding) { return finding.verdict == RigVerdict::failed; });
  return result;
}

}  // namespace counterspot
