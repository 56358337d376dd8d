#include "counterspot/influence.hpp"

#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <Eigen/QR>
#include <algorithm>
#include <cmath>

#include "influence/design_matrix.hpp"
#include "influence/prior_update.hpp"
#include "influence/regression.hpp"

namespace counterspot {

namespace {

using Names = std::vector<std::string>;

constexpr double condition_to_warn = 30.0;  // an error of a reading may grow thirtyfold in the answer
constexpr double clear_effect = 3.0;        // coefficient over its uncertainty, below which a trial did nothing
constexpr double weak_effect = 10.0;        // … and below which it should have been heavier
constexpr double weak_change = 0.1;         // of the as-found reading, where no uncertainty is known
constexpr double no_change = 1e-6;          // … at which the reading did not change at all

struct Sets {
  const std::vector<SpinReading>& spins;
  const Names& planes;
  const Names& sensors;
  const InfluenceOptions& options;
};

bool all_uncertainties_known(const std::vector<SpinReading>& spins) {
  for (const SpinReading& spin : spins) {
    for (const auto& covariance : spin.covariances) {
      if ((covariance.array() == 0.0).all()) return false;
    }
  }
  return true;
}

bool refuse(InfluenceSummary& summary, InfluenceStatus status, std::string explanation) {
  summary.status = status;
  summary.explanation = std::move(explanation);
  return false;
}

/// Are the spins such that the planes can be told apart, before any reading is looked at?
bool trials_suffice(const Sets& sets, const Design& design, InfluenceSummary& summary) {
  const auto needed = sets.planes.size() + 1;
  if (sets.sensors.size() < sets.planes.size()) {
    return refuse(
        summary, InfluenceStatus::too_few_sensors,
        fmt::format("{} sensors cannot tell {} planes apart; there must be at least as many sensors as planes",
                    sets.sensors.size(), sets.planes.size()));
  }
  for (Eigen::Index p = 0; p < design.plane_count; ++p) {
    bool changed = (design.weights.col(p).array() != design.weights(0, p)).any();
    if (changed) continue;
    return refuse(summary, InfluenceStatus::too_few_spins,
                  fmt::format("no spin changes the weight at plane {}; make a spin with a trial weight there",
                              sets.planes[static_cast<std::size_t>(p)]));
  }
  if (sets.spins.size() < needed) {
    return refuse(summary, InfluenceStatus::too_few_spins,
                  fmt::format("{} spins are too few for {} planes; make {} spins, each with other weights",
                              sets.spins.size(), sets.planes.size(), needed));
  }
  summary.trial_condition = condition_of_trials(design);
  if (!(summary.trial_condition < sets.options.refuse_condition)) {
    return refuse(
        summary, InfluenceStatus::trials_alike,
        "the weights of the spins do not tell the planes apart; make a spin with a trial weight at one plane only");
  }
  return true;
}

/// How clearly a plane's weights showed: the largest coefficient over its uncertainty, or over the as-found reading.
double effect_of_plane(const std::vector<SensorRegression>& fits, int plane, bool known, double weight_kg_m) {
  double clearest = 0.0;
  for (const SensorRegression& fit : fits) {
    double size = std::abs(fit.coefficient(plane));
    double u = std::sqrt(fit.coefficient_covariance(plane).trace() / 2.0);
    double against = known ? u : std::abs(fit.as_found()) / weight_kg_m;
    if (size > 0.0) clearest = std::max(clearest, size / std::max(against, 1e-300));
  }
  return clearest;
}

bool trials_showed(const Sets& sets, const Design& design, const std::vector<SensorRegression>& fits,
                   InfluenceSummary& summary) {
  const bool known = summary.uncertainty_known;
  for (int p = 0; p < design.plane_count; ++p) {
    const std::string& plane = sets.planes[static_cast<std::size_t>(p)];
    double weight = design.weights.col(p).cwiseAbs().maxCoeff();
    double effect = effect_of_plane(fits, p, known, weight);
    if (effect < (known ? clear_effect : no_change)) {
      return refuse(
          summary, InfluenceStatus::trial_no_effect,
          fmt::format("the trial weight at plane {} changed nothing that can be told from the noise; fit a heavier one "
                      "and check that it was really on the shaft",
                      plane));
    }
    if (effect < (known ? weak_effect : weak_change)) {
      summary.warnings.push_back(
          {WarningCode::weak_trial, std::nullopt,
           fmt::format("the trial weight at plane {} changed the reading only little; a heavier one would "
                       "make the answer surer",
                       plane)});
    }
  }
  return true;
}

Eigen::MatrixXcd coefficient_matrix(const std::vector<SensorRegression>& fits, int plane_count) {
  Eigen::MatrixXcd alpha(static_cast<Eigen::Index>(fits.size()), plane_count);
  for (Eigen::Index s = 0; s < alpha.rows(); ++s) {
    for (int p = 0; p < plane_count; ++p) alpha(s, p) = fits[static_cast<std::size_t>(s)].coefficient(p);
  }
  return alpha;
}

/// α⁺ with each sensor weighted by the noise of its last reading; plain where no uncertainty is known.
Eigen::MatrixXcd inverse_coefficients(const Eigen::MatrixXcd& alpha, const SpinReading& last, bool known) {
  Eigen::VectorXd weight = Eigen::VectorXd::Ones(alpha.rows());
  if (known) {
    for (Eigen::Index s = 0; s < alpha.rows(); ++s) {
      weight(s) = 1.0 / std::sqrt(last.covariances[static_cast<std::size_t>(s)].trace());
    }
  }
  Eigen::MatrixXcd weighted = weight.asDiagonal() * alpha;
  Eigen::VectorXd scales = weighted.colwise().norm().cwiseInverse().transpose();
  Eigen::MatrixXcd scaled = weighted * scales.asDiagonal();
  return scales.asDiagonal() * scaled.completeOrthogonalDecomposition().pseudoInverse() * weight.asDiagonal();
}

Eigen::VectorXcd last_vectors(const Sets& sets) {
  const auto& vectors = sets.spins.back().vectors;
  return Eigen::Map<const Eigen::VectorXcd>(vectors.data(), static_cast<Eigen::Index>(vectors.size()));
}

/// First-order propagation (GUM, JCGM 100:2008, 5.1) of every independent error to U = α⁺ Z_last:
/// δU = α⁺ (δZ_last − δα U), where a reading's error moves α and, in the last spin, Z_last; a badly set piece moves α
/// only.
Eigen::MatrixXd covariance_of_unbalance(const Design& design, const std::vector<SensorRegression>& fits,
                                        const Eigen::MatrixXcd& inverse, const Eigen::VectorXcd& unbalance) {
  const Eigen::Index parts = 2 * design.plane_count;
  Eigen::MatrixXd covariance = Eigen::MatrixXd::Zero(parts, parts);
  std::vector<Eigen::MatrixXd> by_setting(design.settings.size(), Eigen::MatrixXd::Zero(parts, 2));
  for (std::size_t s = 0; s < fits.size(); ++s) {
    Eigen::MatrixXd to_unbalance(parts, 2);
    Eigen::MatrixXd of_coefficients = Eigen::MatrixXd::Zero(2, 2 + parts);
    for (Eigen::Index p = 0; p < design.plane_count; ++p) {
      to_unbalance.block<2, 2>(2 * p, 0) = as_matrix(inverse(p, static_cast<Eigen::Index>(s)));
      of_coefficients.block<2, 2>(0, 2 + 2 * p) = as_matrix(unbalance(p));
    }
    Eigen::MatrixXd from_fit = -to_unbalance * of_coefficients * fits[s].estimator;  // parts×2K
    Eigen::MatrixXd from_readings = from_fit;
    from_readings.rightCols(2) += to_unbalance;
    covariance += from_readings * fits[s].reading_noise * from_readings.transpose();
    for (std::size_t i = 0; i < design.settings.size(); ++i) {
      by_setting[i] +=
          from_fit * setting_effect(design, design.settings[i], fits[s].coefficient(design.settings[i].plane));
    }
  }
  for (std::size_t i = 0; i < design.settings.size(); ++i) {
    covariance += by_setting[i] * design.settings[i].covariance * by_setting[i].transpose();
  }
  return covariance;
}

/// Spins that contradict one another: said, and the uncertainty widened to cover it (Birge ratio).
double widening(const Sets& sets, const Design& design, const std::vector<SensorRegression>& fits,
                InfluenceSummary& summary) {
  int degrees = static_cast<int>(fits.size()) * 2 * (design.spin_count - 1 - design.plane_count);
  if (degrees <= 0 || !summary.uncertainty_known) return 1.0;
  double chi_squared = 0.0;
  for (const SensorRegression& fit : fits) chi_squared += fit.chi_squared;
  summary.chi_squared_per_dof = chi_squared / degrees;
  if (!beyond_chance(chi_squared, degrees)) return 1.0;
  summary.warnings.push_back(
      {WarningCode::spins_disagree, std::nullopt,
       fmt::format("the {} spins contradict one another beyond their uncertainty; check that each states all the "
                   "weights that were on, and whether something came loose",
                   sets.spins.size())});
  return summary.chi_squared_per_dof;
}

void fill_coefficients(const std::vector<SensorRegression>& fits, int plane_count, double widen,
                       InfluenceSummary& summary) {
  for (const SensorRegression& fit : fits) {
    for (int p = 0; p < plane_count; ++p) {
      summary.coefficients.push_back({fit.coefficient(p), widen * fit.coefficient_covariance(p)});
    }
  }
}

bool planes_differ(const Sets& sets, const Eigen::MatrixXcd& alpha, InfluenceSummary& summary) {
  summary.condition_number = scaled_condition(alpha);
  if (!(summary.condition_number < sets.options.refuse_condition)) {
    return refuse(summary, InfluenceStatus::planes_alike,
                  "the sensors see the same whichever plane carries the weight, so no answer can be given; move a "
                  "sensor or a plane "
                  "further from the other");
  }
  if (std::max(summary.condition_number, summary.trial_condition) > condition_to_warn) {
    summary.warnings.push_back(
        {WarningCode::ill_conditioned, std::nullopt,
         fmt::format("the planes can hardly be told apart (condition number {:.0f}): small errors of reading grow "
                     "large in the answer",
                     std::max(summary.condition_number, summary.trial_condition))});
  }
  return true;
}

}  // namespace

InfluenceSummary solve_influence(const std::vector<SpinReading>& spins, const Names& planes, const Names& sensors,
                                 const InfluenceOptions& options) {
  if (options.prior && all_uncertainties_known(spins)) return update_prior(spins, planes, sensors, options);
  const Sets sets{spins, planes, sensors, options};
  InfluenceSummary summary;
  const int plane_count = static_cast<int>(planes.size());
  const Design design = design_of(spins, plane_count, options.setting);
  if (!trials_suffice(sets, design, summary)) return summary;

  summary.uncertainty_known = all_uncertainties_known(spins);
  if (!summary.uncertainty_known) {
    summary.warnings.push_back(
        {WarningCode::no_uncertainty, std::nullopt,
         "readings came without an uncertainty, so the answer has none either; type it as '± 0.1 mm/s' if it is "
         "known"});
  }
  std::vector<SensorRegression> fits;
  for (std::size_t s = 0; s < sensors.size(); ++s) fits.push_back(regress(design, spins, s, summary.uncertainty_known));
  if (!trials_showed(sets, design, fits, summary)) return summary;
  const Eigen::MatrixXcd alpha = coefficient_matrix(fits, plane_count);
  if (!planes_differ(sets, alpha, summary)) return summary;

  const Eigen::MatrixXcd inverse = inverse_coefficients(alpha, spins.back(), summary.uncertainty_known);
  const Eigen::VectorXcd unbalance = inverse * last_vectors(sets);
  Eigen::VectorXcd as_found_vectors(static_cast<Eigen::Index>(fits.size()));
  for (std::size_t s = 0; s < fits.size(); ++s) as_found_vectors(static_cast<Eigen::Index>(s)) = fits[s].as_found();
  const Eigen::VectorXcd as_found = inverse * as_found_vectors;
  const double widen = widening(sets, design, fits, summary);
  fill_coefficients(fits, plane_count, widen, summary);
  for (Eigen::Index p = 0; p < plane_count; ++p) summary.planes.push_back({unbalance(p), as_found(p), -unbalance(p)});
  summary.residual_covariance = summary.uncertainty_known
                                    ? Eigen::MatrixXd(widen * covariance_of_unbalance(design, fits, inverse, unbalance))
                                    : Eigen::MatrixXd::Zero(2 * plane_count, 2 * plane_count);
  summary.status = InfluenceStatus::solved;
  return summary;
}

}  // namespace counterspot
