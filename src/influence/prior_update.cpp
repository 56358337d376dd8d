#include "influence/prior_update.hpp"

#include <Eigen/Cholesky>
#include <cmath>
#include <numeric>

#include "algebra/pseudo_inverse.hpp"
#include "counterspot/agreement.hpp"
#include "influence/correction.hpp"
#include "influence/design_matrix.hpp"

namespace counterspot {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

/// All sensors' readings and unknowns, sensor after sensor: z of sensor s at 2Ks, x of sensor s at 2(1+P)s.
struct Joint {
  Design design;
  Index sensors = 0;
  MatrixXd rows;   ///< A
  MatrixXd noise;  ///< of the readings
  VectorXd readings;

  Index spins() const { return design.spin_count; }
  Index planes() const { return design.plane_count; }
  Index reading_at(Index s, Index k) const { return 2 * (s * spins() + k); }
  Index unknown_at(Index s) const { return 2 * s * (1 + planes()); }
  Index coefficients_at(Index s) const { return unknown_at(s) + 2; }
};

Joint joint_of(const std::vector<SpinReading>& spins, int plane_count, const SettingUncertainty& setting) {
  Joint joint;
  joint.design = design_of(spins, plane_count, setting);
  joint.sensors = static_cast<Index>(spins.front().vectors.size());
  const Index readings = 2 * joint.sensors * joint.spins();
  joint.rows = MatrixXd::Zero(readings, joint.unknown_at(joint.sensors));
  joint.noise = MatrixXd::Zero(readings, readings);
  joint.readings = VectorXd(readings);
  for (Index s = 0; s < joint.sensors; ++s) {
    joint.rows.block(joint.reading_at(s, 0), joint.unknown_at(s), 2 * joint.spins(), 2 * (1 + joint.planes())) =
        joint.design.rows;
    for (Index k = 0; k < joint.spins(); ++k) {
      const auto& spin = spins[static_cast<std::size_t>(k)];
      const Index at = joint.reading_at(s, k);
      joint.noise.block<2, 2>(at, at) = spin.covariances[static_cast<std::size_t>(s)];
      joint.readings.segment<2>(at) = as_vector(spin.vectors[static_cast<std::size_t>(s)]);
    }
  }
  return joint;
}

Phasor coefficient(const VectorXd& alpha, Index s, Index plane, Index planes) {
  const Index at = 2 * (s * planes + plane);
  return {alpha(at), alpha(at + 1)};
}

/// E_i: how an error of one piece shows in all readings.
MatrixXd effect_of(const Joint& joint, const SettingError& piece, const VectorXd& alpha) {
  MatrixXd effect = MatrixXd::Zero(joint.readings.size(), 2);
  for (Index s = 0; s < joint.sensors; ++s) {
    for (std::size_t k : piece.spins) {
      effect.block<2, 2>(joint.reading_at(s, static_cast<Index>(k)), 0) =
          as_matrix(coefficient(alpha, s, piece.plane, joint.planes()));
    }
  }
  return effect;
}

MatrixXd all_noise(const Joint& joint, const VectorXd& alpha) {
  MatrixXd noise = joint.noise;
  for (const SettingError& piece : joint.design.settings) {
    const MatrixXd effect = effect_of(joint, piece, alpha);
    noise += effect * piece.covariance * effect.transpose();
  }
  return noise;
}

VectorXd coefficients_in(const Joint& joint, const VectorXd& unknowns) {
  VectorXd alpha(2 * joint.sensors * joint.planes());
  for (Index s = 0; s < joint.sensors; ++s)
    alpha.segment(2 * s * joint.planes(), 2 * joint.planes()) =
        unknowns.segment(joint.coefficients_at(s), 2 * joint.planes());
  return alpha;
}

/// P of α = P x.
MatrixXd selection(const Joint& joint) {
  MatrixXd select = MatrixXd::Zero(2 * joint.sensors * joint.planes(), joint.unknown_at(joint.sensors));
  for (Index s = 0; s < joint.sensors; ++s)
    select.block(2 * s * joint.planes(), joint.coefficients_at(s), 2 * joint.planes(), 2 * joint.planes())
        .setIdentity();
  return select;
}

/// In SI the unknowns differ by orders of magnitude; scaled by what they amount to they solve well.
VectorXd sizes_of_unknowns(const Joint& joint, const VectorXd& alpha) {
  const double reading = std::max(joint.readings.norm(), 1e-300);
  VectorXd sizes = VectorXd::Constant(joint.unknown_at(joint.sensors), std::max(alpha.norm(), 1e-300));
  for (Index s = 0; s < joint.sensors; ++s) sizes.segment<2>(joint.unknown_at(s)).setConstant(reading);
  return sizes;
}

/// x̂ = H z + G m, so that x̂ − x = H (errors of z) + G (m − α).
struct Update {
  VectorXd unknowns;
  MatrixXd from_readings;  ///< H
  MatrixXd from_prior;     ///< G
  MatrixXd covariance;     ///< Λ⁻¹
  double chi_squared = 0.0;
};

Update update(const Joint& joint, const CoefficientPrior& prior) {
  Update fit;
  VectorXd alpha = prior.mean;
  const MatrixXd select = selection(joint);
  const MatrixXd prior_precision =
      Eigen::LDLT<MatrixXd>(prior.covariance).solve(MatrixXd::Identity(prior.mean.size(), prior.mean.size()));
  constexpr int rounds = 4;  // the setting errors' size depends on α
  for (int round = 0; round < rounds; ++round) {
    const Eigen::LLT<MatrixXd> noise(all_noise(joint, alpha));
    const VectorXd sizes = sizes_of_unknowns(joint, alpha);
    const MatrixXd weighted = noise.solve(joint.rows);  // R⁻¹A
    const MatrixXd precision = joint.rows.transpose() * weighted + select.transpose() * prior_precision * select;
    const MatrixXd scaled = sizes.asDiagonal() * precision * sizes.asDiagonal();
    fit.covariance = sizes.asDiagonal() *
                     Eigen::LDLT<MatrixXd>(scaled).solve(MatrixXd::Identity(scaled.rows(), scaled.cols())) *
                     sizes.asDiagonal();
    fit.from_readings = fit.covariance * weighted.transpose();
    fit.from_prior = fit.covariance * select.transpose() * prior_precision;
    fit.unknowns = fit.from_readings * joint.readings + fit.from_prior * prior.mean;
    alpha = coefficients_in(joint, fit.unknowns);
    const VectorXd misfit = joint.readings - joint.rows * fit.unknowns;
    const VectorXd moved = alpha - prior.mean;
    fit.chi_squared = misfit.dot(noise.solve(misfit)) + moved.dot(prior_precision * moved);
  }
  return fit;
}

Eigen::MatrixXcd matrix_of(const VectorXd& alpha, Index sensors, Index planes) {
  Eigen::MatrixXcd matrix(sensors, planes);
  for (Index s = 0; s < sensors; ++s) {
    for (Index p = 0; p < planes; ++p) matrix(s, p) = coefficient(alpha, s, p, planes);
  }
  return matrix;
}

VectorXd weights_of(const SpinReading& last) {
  VectorXd weight(static_cast<Index>(last.covariances.size()));
  for (Index s = 0; s < weight.size(); ++s)
    weight(s) = 1.0 / std::sqrt(last.covariances[static_cast<std::size_t>(s)].trace());
  return weight;
}

/// α⁺, each sensor weighted by the noise of the last spin.
Eigen::MatrixXcd inverse_of(const Eigen::MatrixXcd& alpha, const VectorXd& weight) {
  const Eigen::MatrixXcd weighted = weight.asDiagonal() * alpha;
  const VectorXd scales = weighted.colwise().norm().cwiseInverse().transpose();
  const Eigen::MatrixXcd scaled = weighted * scales.asDiagonal();
  return scales.asDiagonal() * pseudo_inverse(scaled) * weight.asDiagonal();
}

/// δU = α⁺(δZ_last − δα U), first order (GUM 5.1), for the independent errors of readings, pieces and prior.
void add_errors_of_unbalance(const Joint& joint, const Update& fit, const CoefficientPrior& prior,
                             const Eigen::MatrixXcd& inverse, const Eigen::VectorXcd& unbalance,
                             const std::vector<FittedWeight>& coming_off, InfluenceSummary& summary) {
  const Index parts = 2 * joint.planes();
  MatrixXd by_unknowns = MatrixXd::Zero(parts, fit.unknowns.size());
  MatrixXd by_readings = MatrixXd::Zero(parts, joint.readings.size());
  for (Index s = 0; s < joint.sensors; ++s) {
    MatrixXd to_unbalance(parts, 2);
    MatrixXd of_coefficients(2, parts);
    for (Index p = 0; p < joint.planes(); ++p) {
      to_unbalance.block<2, 2>(2 * p, 0) = as_matrix(inverse(p, s));
      of_coefficients.block<2, 2>(0, 2 * p) = as_matrix(unbalance(p));
    }
    by_unknowns.block(0, joint.coefficients_at(s), parts, parts) = -to_unbalance * of_coefficients;
    by_readings.block(0, joint.reading_at(s, joint.spins() - 1), parts, 2) = to_unbalance;
  }
  const MatrixXd through_fit = by_unknowns * fit.from_readings;
  by_readings += through_fit;
  const MatrixXd by_prior = by_unknowns * fit.from_prior;
  add_share(summary, ErrorSource::readings, by_readings * joint.noise * by_readings.transpose());
  add_share(summary, ErrorSource::earlier_shafts, by_prior * prior.covariance * by_prior.transpose());
  MatrixXd by_setting = MatrixXd::Zero(parts, parts);
  MatrixXd by_setting_bare = MatrixXd::Zero(parts, parts);
  const VectorXd alpha = coefficients_in(joint, fit.unknowns);
  for (const SettingError& piece : joint.design.settings) {
    MatrixXd by_piece = through_fit * effect_of(joint, piece, alpha);
    by_setting += by_piece * piece.covariance * by_piece.transpose();
    // A piece that comes off takes with it what it really was, not what was stated.
    by_piece.middleRows(2 * piece.plane, 2) += times_in(piece.weight, coming_off) * Eigen::Matrix2d::Identity();
    by_setting_bare += by_piece * piece.covariance * by_piece.transpose();
  }
  add_share(summary, ErrorSource::setting, by_setting);
  summary.bare_covariance_change = by_setting_bare - by_setting;
}

void fill(const Joint& joint, const Update& fit, const InfluenceOptions& options, const SpinReading& last,
          InfluenceSummary& summary) {
  const CoefficientPrior& prior = *options.prior;
  const VectorXd alpha = coefficients_in(joint, fit.unknowns);
  for (Index s = 0; s < joint.sensors; ++s) {
    for (Index p = 0; p < joint.planes(); ++p) {
      const Index at = joint.coefficients_at(s) + 2 * p;
      summary.coefficients.push_back({coefficient(alpha, s, p, joint.planes()), fit.covariance.block<2, 2>(at, at)});
    }
  }
  const Eigen::MatrixXcd coefficients = matrix_of(alpha, joint.sensors, joint.planes());
  const VectorXd weights = weights_of(last);
  const Eigen::MatrixXcd inverse = inverse_of(coefficients, weights);
  Eigen::VectorXcd as_found(joint.sensors);
  Eigen::VectorXcd now(joint.sensors);
  for (Index s = 0; s < joint.sensors; ++s) {
    as_found(s) = {fit.unknowns(joint.unknown_at(s)), fit.unknowns(joint.unknown_at(s) + 1)};
    now(s) = last.vectors[static_cast<std::size_t>(s)];
  }
  Eigen::VectorXcd unbalance = inverse * now;
  for (Index p = 0; options.adapters && p < joint.planes(); ++p)
    unbalance(p) -= adapter_factor(last) * options.adapters->unbalance_kg_m[static_cast<std::size_t>(p)];
  const Eigen::VectorXcd unbalance_as_found = inverse * as_found;
  std::vector<Index> all_planes(static_cast<std::size_t>(joint.planes()));
  std::iota(all_planes.begin(), all_planes.end(), Index{0});
  const Eigen::VectorXcd of_shaft = now - coefficients * (inverse * now - unbalance);  // the adapters' share taken away
  const Eigen::VectorXcd correction = correction_for(options, all_planes, {coefficients, weights, of_shaft}, unbalance);
  Eigen::VectorXcd bare = unbalance;
  for (const FittedWeight& piece : options.coming_off) bare(piece.plane) -= piece.unbalance_kg_m();
  const Eigen::VectorXcd bare_correction = correction_for(
      of_bare(options), all_planes, {coefficients, weights, of_shaft + coefficients * (bare - unbalance)}, bare);
  for (Index p = 0; p < joint.planes(); ++p)
    summary.planes.push_back({unbalance(p), unbalance_as_found(p), correction(p), {}, bare(p), bare_correction(p)});
  summary.inverse = inverse;
  summary.residual_covariance = MatrixXd::Zero(2 * joint.planes(), 2 * joint.planes());
  add_errors_of_unbalance(joint, fit, prior, inverse, unbalance, options.coming_off, summary);
  if (options.adapters) add_taken_away(summary, *options.adapters, last, options.setting.turned_rad);
}

}  // namespace

InfluenceSummary update_prior(const std::vector<SpinReading>& spins, const std::vector<std::string>& planes,
                              const std::vector<std::string>& sensors, const InfluenceOptions& options) {
  InfluenceSummary summary;
  if (sensors.size() < planes.size()) {
    summary.status = InfluenceStatus::too_few_sensors;
    summary.explanation =
        "fewer sensors than planes cannot tell the planes apart; there must be at least as many sensors as planes";
    return summary;
  }
  const Joint joint = joint_of(spins, static_cast<int>(planes.size()), options.setting);
  const Update fit = update(joint, *options.prior);
  const int degrees = static_cast<int>(joint.readings.size() - 2 * joint.sensors);
  if (degrees > 0) {
    summary.chi_squared_per_dof = fit.chi_squared / degrees;
    if (beyond_chance(fit.chi_squared, degrees, options.prior->degrees_of_freedom)) {
      summary.warnings.push_back({WarningCode::out_of_band, std::nullopt,
                                  "the spins of this shaft do not agree with the coefficients of its family: check the "
                                  "weights stated, then the rig (bolts, sensors, bearings)"});
    }
  }
  summary.condition_number =
      scaled_condition(matrix_of(coefficients_in(joint, fit.unknowns), joint.sensors, joint.planes()));
  if (!(summary.condition_number < options.refuse_condition)) {
    summary.status = InfluenceStatus::planes_alike;
    summary.explanation =
        "the sensors see the same whichever plane carries the weight, so no answer can be given; move a sensor or a "
        "plane further from the other";
    return summary;
  }
  fill(joint, fit, options, spins.back(), summary);
  summary.status = InfluenceStatus::solved;
  return summary;
}

CoefficientInformation information_of(const std::vector<SpinReading>& spins, int plane_count,
                                      const SettingUncertainty& setting, const VectorXd& guess) {
  const Joint joint = joint_of(spins, plane_count, setting);
  const MatrixXd select = selection(joint);
  MatrixXd as_found = MatrixXd::Zero(joint.readings.size(), 2 * joint.sensors);
  for (Index s = 0; s < joint.sensors; ++s)
    as_found.middleCols(2 * s, 2) = joint.rows.middleCols(joint.unknown_at(s), 2);
  const MatrixXd rows = joint.rows * select.transpose();
  const Eigen::LLT<MatrixXd> noise(all_noise(joint, guess));
  const MatrixXd weighted = noise.solve(as_found);
  const Eigen::LDLT<MatrixXd> of_as_found(as_found.transpose() * weighted);
  // What is left of rows and readings once the best Z_0 is taken away.
  const MatrixXd rows_left = rows - as_found * of_as_found.solve(weighted.transpose() * rows);
  const MatrixXd weighted_rows = noise.solve(rows_left);
  return {rows_left.transpose() * weighted_rows, weighted_rows.transpose() * joint.readings};
}

}  // namespace counterspot
