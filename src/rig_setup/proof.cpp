#include <Eigen/LU>
#include <cmath>

#include "counterspot/influence/influence.hpp"
#include "counterspot/placement/placement.hpp"
#include "counterspot/rig_setup/findings.hpp"
#include "counterspot/tracking/tracking.hpp"
#include "counterspot/units/coverage.hpp"

namespace counterspot {

namespace {

constexpr double most_opposite_rad = radians(60.0);  // beyond 120 deg surely turned over; between, it cannot be said
constexpr double most_u = 0.1;                       // of the weight: one standard deviation
constexpr double most_speed_change = 0.02;

/// Shaft angle of what is seen so far clockwise from the mark.
double shaft_angle_of_clock_angle(double clock_rad, Rotation seen) {
  return seen == Rotation::counter_clockwise ? clock_rad : -clock_rad;
}

SpinReading reading_of(const Track& spin, std::string label, std::vector<FittedWeight> fitted) {
  SpinReading reading{std::move(label), std::move(fitted), {}, {}, spin.speed_rad_s};
  for (const SensorTrack& sensor : spin.sensors) {
    reading.vectors.push_back(sensor.orders.front().value);
    reading.covariances.push_back(sensor.orders.front().covariance);
  }
  return reading;
}

Eigen::Matrix2cd coefficients_of(const InfluenceSummary& influence) {
  Eigen::Matrix2cd alpha;
  for (Eigen::Index s : {0, 1})
    for (Eigen::Index p : {0, 1}) alpha(s, p) = influence.coefficients[static_cast<std::size_t>(2 * s + p)].value;
  return alpha;
}

/// Of each plane's unbalance, from one spin's noise alone: standard, of either part.
std::array<double, 2> u_of_unbalance(const Eigen::Matrix2cd& inverse, const SpinReading& spin) {
  std::array<double, 2> u{};
  for (Eigen::Index p : {0, 1}) {
    double variance = 0.0;
    for (Eigen::Index s : {0, 1})
      variance += std::norm(inverse(p, s)) * 0.5 * spin.covariances[static_cast<std::size_t>(s)].trace();
    u[static_cast<std::size_t>(p)] = std::sqrt(variance);
  }
  return u;
}

void judge(Proof& proof, double mirrored_off, double u_part) {
  bool unsure = false;
  const auto fails = [&](const SaidWords& words) { proof.against.push_back(said(words)); };
  const auto hardly = [&](const SaidWords& words) {
    proof.against.push_back(said(words));
    unsure = true;
  };
  if (u_part > most_u) {
    hardly({"the noise is large beside what the weight does: take a heavier one, or a speed further up",
            "das Rauschen ist groß neben dem, was das Gewicht bewirkt: ein schwereres oder eine höhere Drehzahl "
            "nehmen"});
  }
  if (proof.own_over_cross < 1.0 / proof_own_over_cross) {
    fails(
        {"a weight at one end is read mostly by the sensor that is taken for the other end's: the sensors are "
         "exchanged, or a weight was put at the wrong end",
         "ein Gewicht an einem Ende zeigt vor allem der Aufnehmer, der für den des anderen gehalten wird: die "
         "Aufnehmer "
         "sind vertauscht, oder ein Gewicht saß am falschen Ende"});
  } else if (proof.own_over_cross < proof_own_over_cross) {
    hardly({"both sensors answer a weight at either end almost alike: the speed is near a resonance, take another",
            "beide Aufnehmer antworten auf ein Gewicht an jedem Ende fast gleich: die Drehzahl liegt nahe einer "
            "Resonanz, eine andere nehmen"});
  }
  if (std::abs(proof.opposite_rad) > pi - most_opposite_rad) {
    fails(
        {"the two sensors answer their own ends' weights in opposite directions: one of them is turned over, or was "
         "knocked from the wrong side",
         "die Aufnehmer antworten auf das Gewicht ihres Endes entgegengesetzt: einer ist umgedreht, oder es wurde von "
         "der falschen Seite geklopft"});
  } else if (std::abs(proof.opposite_rad) > most_opposite_rad) {
    hardly(
        {"the two sensors answer their own ends' weights neither alike nor opposite: the speed is near a resonance, "
         "take another",
         "die Aufnehmer antworten auf das Gewicht ihres Endes weder gleich noch entgegengesetzt: die Drehzahl liegt "
         "nahe einer Resonanz, eine andere nehmen"});
  }
  if (mirrored_off <= proof_most_off && proof.off > proof_most_off) {
    fails(
        {"the weight is found on the other side of the clock: the direction of rotation, or the end it was seen from, "
         "is wrong",
         "das Gewicht wird auf der anderen Seite der Uhr gefunden: die Drehrichtung oder das Ende, von dem aus "
         "geschaut "
         "wurde, stimmt nicht"});
  } else if (proof.off > proof_most_off) {
    fails({"the weight is not found where it was put", "das Gewicht wird nicht gefunden, wo es sitzt"});
  }
  const bool failed = proof.against.size() > (unsure ? 1U : 0U);
  proof.result = failed ? ProofResult::failed : unsure ? ProofResult::unsure : ProofResult::held;
}

}  // namespace

Proof prove(const Rig& rig, const ProofSpins& spins) {
  const Rotation seen = rotation_seen_from(rig, spins.seen_from);
  const double angle_rad = shaft_angle_of_clock_angle(spins.clock_rad, seen);
  const auto piece = [&](int plane, double at_rad) {
    return FittedWeight{plane, spins.mass_kg, spins.radius_m, at_rad};
  };
  const std::array<std::vector<FittedWeight>, 4> fitted = {
      {{}, {piece(0, 0.0)}, {piece(1, 0.0)}, {piece(0, angle_rad)}}};
  const std::array<const char*, 4> labels = {"bare", "weight at A", "weight at B", "known weight"};
  std::vector<SpinReading> readings;
  for (std::size_t i = 0; i < 4; ++i)
    readings.push_back(reading_of(track(*spins.recordings[i], rig), labels[i], fitted[i]));

  Proof proof;
  proof.speed_rad_s = *readings.front().speed_rad_s;
  for (const SpinReading& reading : readings) {
    if (std::abs(*reading.speed_rad_s / proof.speed_rad_s - 1.0) <= most_speed_change) continue;
    proof.against.push_back(
        said({"the spins differ in speed by more than 2 %: spin all four at one speed",
              "die Messläufe unterscheiden sich in der Drehzahl um mehr als 2 %: alle vier bei einer "
              "Drehzahl machen"}));
    return proof;
  }
  const SpinReading known = readings.back();
  readings.pop_back();
  std::vector<std::string> names;
  for (const Sensor& sensor : rig.sensors) names.push_back(sensor.name);
  InfluenceOptions options;
  options.setting = rig.setting;
  const InfluenceSummary influence = solve_influence(readings, {"A", "B"}, names, options);
  if (!influence.usable()) {
    proof.against.push_back({influence.refusal.what + ": " + influence.refusal.remedy,
                             "die vier Messläufe ergeben keine Koeffizienten: alle vier bei einer Drehzahl mit dem "
                             "bekannten Gewicht wiederholen"});
    return proof;
  }
  const Eigen::Matrix2cd alpha = coefficients_of(influence);
  const Eigen::Matrix2cd inverse = alpha.inverse();
  Eigen::Vector2cd change;
  for (std::size_t s : {0U, 1U}) change(static_cast<Eigen::Index>(s)) = known.vectors[s] - readings.front().vectors[s];
  const Eigen::Vector2cd found = inverse * change;

  const double size = spins.mass_kg * spins.radius_m;
  const auto off_from = [&](double at_rad) {
    return std::hypot(std::abs(found(0) - phasor_at(size, at_rad)), std::abs(found(1))) / size;
  };
  proof.off = off_from(angle_rad);
  proof.found_mass_kg = std::abs(found(0)) / spins.radius_m;
  const double found_rad = std::arg(found(0));
  proof.found_clock_rad = wrap_positive(seen == Rotation::counter_clockwise ? found_rad : -found_rad);
  proof.own_over_cross = std::abs(alpha(0, 0) * alpha(1, 1)) / std::abs(alpha(0, 1) * alpha(1, 0));
  proof.opposite_rad = std::arg(alpha(0, 0) / alpha(1, 1));
  const auto u = u_of_unbalance(inverse, known);
  for (std::size_t p : {0U, 1U}) proof.smallest_residual_kg_m[p] = coverage_factor * u[p];
  judge(proof, off_from(-angle_rad), std::hypot(u[0], u[1]) / size);
  return proof;
}

}  // namespace counterspot
