#include "influence/design_matrix.hpp"

#include <Eigen/SVD>
#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

namespace counterspot {

namespace {

/// Mass errs along the vector, position across it.
Eigen::Matrix2d errors_of_setting(const Phasor& unbalance, const SettingUncertainty& setting) {
  Eigen::Matrix2d errors;
  errors << as_vector(unbalance) * setting.mass_fraction, as_vector(unbalance * Phasor(0.0, 1.0)) * setting.angle_rad;
  return errors;
}

void add_turnings(const std::vector<SpinReading>& spins, const SettingUncertainty& setting, Design& design) {
  design.u_turned_rad = setting.turned_rad;
  for (std::size_t k = 0; k < spins.size(); ++k) {
    const double angle = spins[k].turned_rad.value_or(0.0);
    auto at = std::find_if(design.turnings.begin(), design.turnings.end(),
                           [&](const TurningError& turning) { return turning.turned_rad == angle; });
    if (at == design.turnings.end()) at = design.turnings.insert(design.turnings.end(), {angle, {}});
    at->spins.push_back(k);
  }
}

}  // namespace

double times_in(const FittedWeight& weight, const std::vector<FittedWeight>& pieces) {
  return static_cast<double>(std::count(pieces.begin(), pieces.end(), weight));
}

Design design_of(const std::vector<SpinReading>& spins, int plane_count, const SettingUncertainty& setting) {
  Design design;
  design.spin_count = static_cast<int>(spins.size());
  design.plane_count = plane_count;
  design.weights = Eigen::MatrixXcd::Zero(design.spin_count, plane_count);
  std::map<PieceKey, std::size_t> known;
  for (std::size_t k = 0; k < spins.size(); ++k) {
    for (const FittedWeight& weight : spins[k].fitted) {
      Phasor unbalance = weight.unbalance_kg_m();
      design.weights(static_cast<Eigen::Index>(k), weight.plane) += unbalance;
      const auto [at, is_new] = known.try_emplace(key_of(weight), design.settings.size());
      if (is_new) design.settings.push_back({weight.plane, errors_of_setting(unbalance, setting), {}, weight});
      design.settings[at->second].spins.push_back(k);
    }
  }
  for (const SpinReading& spin : spins)
    design.turned = design.turned || std::abs(adapter_factor(spin) - adapter_factor(spins.front())) > 1e-6;
  if (design.turned) add_turnings(spins, setting, design);
  design.rows = Eigen::MatrixXd::Zero(2 * design.spin_count, 2 * (1 + plane_count + (design.turned ? 1 : 0)));
  for (Eigen::Index k = 0; k < design.spin_count; ++k) {
    design.rows.block<2, 2>(2 * k, 0).setIdentity();
    for (Eigen::Index p = 0; p < plane_count; ++p) {
      design.rows.block<2, 2>(2 * k, 2 * (1 + p)) = as_matrix(design.weights(k, p));
    }
    if (design.turned)
      design.rows.block<2, 2>(2 * k, 2 * (1 + plane_count)) =
          as_matrix(adapter_factor(spins[static_cast<std::size_t>(k)]));
  }
  return design;
}

bool uncertainties_known(const std::vector<SpinReading>& spins) {
  return std::all_of(spins.begin(), spins.end(), [](const SpinReading& spin) {
    return std::none_of(spin.covariances.begin(), spin.covariances.end(),
                        [](const Eigen::Matrix2d& covariance) { return covariance.isZero(0.0); });
  });
}

Phasor adapter_factor(const SpinReading& spin) {
  return phasor_at(1.0, -spin.turned_rad.value_or(0.0));
}

void add_share(InfluenceSummary& summary, ErrorSource source, const Eigen::MatrixXd& covariance) {
  summary.residual_covariance += covariance;
  summary.budget.push_back({source, covariance});
}

void add_taken_away(InfluenceSummary& summary, const AdapterShare& adapters, const SpinReading& spin,
                    double u_turned_rad) {
  const Phasor factor = adapter_factor(spin);
  const auto parts = 2 * static_cast<Eigen::Index>(adapters.unbalance_kg_m.size());
  Eigen::MatrixXd turn = Eigen::MatrixXd::Zero(parts, parts);
  Eigen::VectorXd too_far(parts);
  for (Eigen::Index at = 0; at < parts; at += 2) {
    turn.block<2, 2>(at, at) = as_matrix(factor);
    too_far.segment<2>(at) =
        u_turned_rad * as_vector(Phasor(0.0, 1.0) * factor * adapters.unbalance_kg_m[static_cast<std::size_t>(at / 2)]);
  }
  add_share(summary, ErrorSource::adapters, turn * adapters.covariance * turn.transpose());
  add_share(summary, ErrorSource::turning, too_far * too_far.transpose());
}

double scaled_condition(const Eigen::MatrixXcd& matrix) {
  if (matrix.rows() < matrix.cols()) return std::numeric_limits<double>::infinity();
  Eigen::MatrixXcd scaled = matrix;
  for (Eigen::Index column = 0; column < scaled.cols(); ++column) {
    double length = scaled.col(column).norm();
    if (length == 0.0) return std::numeric_limits<double>::infinity();
    scaled.col(column) /= length;
  }
  Eigen::VectorXd singular = Eigen::JacobiSVD<Eigen::MatrixXcd>(scaled).singularValues();
  double smallest = singular(singular.size() - 1);
  return smallest > 0.0 ? singular(0) / smallest : std::numeric_limits<double>::infinity();
}

double condition_of_trials(const Design& design) {
  // Every complex column stands in `rows` as two real ones; the first of them holds its parts.
  const Eigen::Index columns = design.rows.cols() / 2;
  Eigen::MatrixXcd matrix(design.spin_count, columns);
  for (Eigen::Index k = 0; k < design.spin_count; ++k) {
    for (Eigen::Index c = 0; c < columns; ++c)
      matrix(k, c) = {design.rows(2 * k, 2 * c), design.rows(2 * k + 1, 2 * c)};
  }
  return scaled_condition(matrix);
}

}  // namespace counterspot
