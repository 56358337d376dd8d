#include "influence/speeds.hpp"

#include <algorithm>
#include <cmath>

namespace counterspot {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;

std::vector<FittedWeight> without(const std::vector<FittedWeight>& pieces, const std::vector<FittedWeight>& taken) {
  std::vector<FittedWeight> rest;
  for (const FittedWeight& piece : pieces) {
    if (std::find(taken.begin(), taken.end(), piece) == taken.end()) rest.push_back(piece);
  }
  return rest;
}

template <typename Of>
Eigen::VectorXcd of_every_row(const std::vector<SpeedGroup>& groups, Of of) {
  Eigen::VectorXcd rows(static_cast<Index>(groups.size() * groups.front().fits.size()));
  Index row = 0;
  for (const SpeedGroup& group : groups) {
    for (std::size_t s = 0; s < group.fits.size(); ++s) rows(row++) = of(group, s);
  }
  return rows;
}

/// A piece of any group, and how its error shows in the answer.
struct PieceEffect {
  FittedWeight weight;
  Eigen::Matrix2d covariance;
  MatrixXd effect;
};

std::vector<PieceEffect> pieces_of(const std::vector<SpeedGroup>& groups, Index parts) {
  std::vector<PieceEffect> pieces;
  for (const SpeedGroup& group : groups) {
    for (const SettingError& piece : group.design.settings) {
      auto same = [&](const PieceEffect& known) { return known.weight == piece.weight; };
      if (std::none_of(pieces.begin(), pieces.end(), same))
        pieces.push_back({piece.weight, piece.covariance, MatrixXd::Zero(parts, 2)});
    }
  }
  return pieces;
}

/// A mounting, turned against the adapters, and how an error of its angle shows in the answer.
struct TurnEffect {
  double turned_rad = 0.0;
  Eigen::VectorXd effect;  ///< a standard uncertainty of it
};

/// All that errs the same way in several rows.
struct SharedErrors {
  std::vector<PieceEffect> pieces;
  std::vector<TurnEffect> turns;
};

Eigen::VectorXd& effect_of_turn(SharedErrors& shared, double turned_rad, Index parts) {
  for (TurnEffect& turn : shared.turns)
    if (turn.turned_rad == turned_rad) return turn.effect;
  shared.turns.push_back({turned_rad, Eigen::VectorXd::Zero(parts)});
  return shared.turns.back().effect;
}

/// δX by the unknowns of one row: −X_p of the coefficients, and what B does.
MatrixXd by_unknowns(const SpeedGroup& group, const Eigen::VectorXcd& unbalance, Errors errors) {
  const Index planes = unbalance.size();
  MatrixXd by = MatrixXd::Zero(2, group.design.rows.cols());
  for (Index p = 0; p < planes; ++p) {
    const Phasor lacking = errors == Errors::of_present ? group.lacking_kg_m(p) : Phasor(0.0);
    by.block<2, 2>(0, 2 + 2 * p) = as_matrix(lacking - unbalance(p));
  }
  if (group.design.turned)
    by.rightCols<2>() = as_matrix(errors == Errors::of_present ? -adapter_factor(group.last()) : Phasor(1.0));
  return by;
}

/// The errors of one sensor at one speed.
void add_row(const SpeedGroup& group, const SensorRegression& fit, const MatrixXd& to_unbalance,
             const MatrixXd& unknowns, Errors errors, MatrixXd& covariance, SharedErrors& shared) {
  const MatrixXd from_fit = to_unbalance * unknowns * fit.estimator;  // 2P×2K
  MatrixXd from_readings = from_fit;
  if (errors == Errors::of_present) from_readings.rightCols(2) += to_unbalance;
  covariance += from_readings * fit.reading_noise * from_readings.transpose();
  for (const TurningError& turning : group.design.turnings) {
    effect_of_turn(shared, turning.turned_rad, to_unbalance.rows()) +=
        group.design.u_turned_rad * from_readings * turning_effect(group.design, turning, fit.adapters());
  }
  for (PieceEffect& piece : shared.pieces) {
    const Phasor alpha = fit.coefficient(piece.weight.plane);
    for (const SettingError& setting : group.design.settings) {
      if (setting.weight == piece.weight) piece.effect += from_fit * setting_effect(group.design, setting, alpha);
    }
    if (errors != Errors::of_present) continue;
    const double extra = times_in(piece.weight, group.off) - times_in(piece.weight, group.on);
    piece.effect += extra * to_unbalance * as_matrix(alpha);
  }
}

}  // namespace

std::vector<SpeedGroup> groups_of(const std::vector<std::vector<SpinReading>>& spins, int plane_count,
                                  std::size_t sensors, const SettingUncertainty& setting, bool weighted) {
  std::vector<SpeedGroup> groups;
  const std::vector<FittedWeight>& now = spins.back().back().fitted;
  for (const auto& of_speed : spins) {
    SpeedGroup group{&of_speed, design_of(of_speed, plane_count, setting), {}, {}, {}, {}};
    for (std::size_t s = 0; s < sensors; ++s) group.fits.push_back(regress(group.design, of_speed, s, weighted));
    group.on = without(now, group.last().fitted);
    group.off = without(group.last().fitted, now);
    group.lacking_kg_m = Eigen::VectorXcd::Zero(plane_count);
    for (const FittedWeight& piece : group.on) group.lacking_kg_m(piece.plane) += piece.unbalance_kg_m();
    for (const FittedWeight& piece : group.off) group.lacking_kg_m(piece.plane) -= piece.unbalance_kg_m();
    groups.push_back(std::move(group));
  }
  return groups;
}

Eigen::MatrixXcd all_coefficients(const std::vector<SpeedGroup>& groups) {
  const auto sensors = static_cast<Index>(groups.front().fits.size());
  Eigen::MatrixXcd alpha(sensors * static_cast<Index>(groups.size()), groups.front().design.plane_count);
  for (Index p = 0; p < alpha.cols(); ++p) {
    alpha.col(p) = of_every_row(
        groups, [&](const SpeedGroup& group, std::size_t s) { return group.fits[s].coefficient(static_cast<int>(p)); });
  }
  return alpha;
}

Eigen::VectorXcd present_readings(const std::vector<SpeedGroup>& groups) {
  return of_every_row(groups, [](const SpeedGroup& group, std::size_t s) {
    Phasor reading = group.last().vectors[s];
    for (Index p = 0; p < group.lacking_kg_m.size(); ++p)
      reading += group.fits[s].coefficient(static_cast<int>(p)) * group.lacking_kg_m(p);
    return group.design.turned ? reading - adapter_factor(group.last()) * group.fits[s].adapters() : reading;
  });
}

Eigen::VectorXcd as_found_readings(const std::vector<SpeedGroup>& groups) {
  return of_every_row(groups, [](const SpeedGroup& group, std::size_t s) { return group.fits[s].as_found(); });
}

Eigen::VectorXcd adapter_readings(const std::vector<SpeedGroup>& groups) {
  return of_every_row(groups, [](const SpeedGroup& group, std::size_t s) { return group.fits[s].adapters(); });
}

Eigen::VectorXd row_weights(const std::vector<SpeedGroup>& groups, bool weighted) {
  return of_every_row(groups,
                      [&](const SpeedGroup& group, std::size_t s) {
                        return Phasor(weighted ? 1.0 / std::sqrt(group.last().covariances[s].trace()) : 1.0);
                      })
      .real();
}

Covariances covariance_of(const std::vector<SpeedGroup>& groups, const Eigen::MatrixXcd& inverse,
                          const Eigen::VectorXcd& unbalance, Errors errors) {
  const Index parts = 2 * unbalance.size();
  const MatrixXd nothing = MatrixXd::Zero(parts, parts);
  Covariances covariances{nothing, nothing, nothing};
  SharedErrors shared{pieces_of(groups, parts), {}};
  Index row = 0;
  for (const SpeedGroup& group : groups) {
    const MatrixXd unknowns = by_unknowns(group, unbalance, errors);
    for (const SensorRegression& fit : group.fits) {
      MatrixXd to_unbalance(parts, 2);
      for (Index p = 0; p < unbalance.size(); ++p) to_unbalance.block<2, 2>(2 * p, 0) = as_matrix(inverse(p, row));
      add_row(group, fit, to_unbalance, unknowns, errors, covariances.readings, shared);
      ++row;
    }
  }
  for (const PieceEffect& piece : shared.pieces)
    covariances.setting += piece.effect * piece.covariance * piece.effect.transpose();
  for (const TurnEffect& turn : shared.turns) covariances.turning += turn.effect * turn.effect.transpose();
  return covariances;
}

}  // namespace counterspot
