#include "influence/speeds.hpp"

#include <algorithm>
#include <cmath>
#include <map>

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
  Eigen::VectorXcd rows(static_cast<Index>(groups.size() * groups.front().sensors()));
  Index row = 0;
  for (const SpeedGroup& group : groups) {
    for (std::size_t s = 0; s < group.sensors(); ++s) rows(row++) = of(group, s);
  }
  return rows;
}

/// A piece of any group, and how its errors show in the answer.
struct PieceEffect {
  Eigen::Matrix2d errors;
  MatrixXd effect;
};

using PieceEffects = std::map<PieceKey, PieceEffect>;

PieceEffects pieces_of(const std::vector<SpeedGroup>& groups, Index parts) {
  PieceEffects pieces;
  for (const SpeedGroup& group : groups)
    for (const SettingError& piece : group.design.settings)
      pieces.try_emplace(key_of(piece.weight), PieceEffect{piece.errors, MatrixXd::Zero(parts, 2)});
  return pieces;
}

/// A mounting, turned against the adapters, and how an error of its angle shows in the answer.
struct TurnEffect {
  double turned_rad = 0.0;
  Eigen::VectorXd effect;  ///< a standard uncertainty of it
};

/// All that errs the same way in several rows.
struct SharedErrors {
  PieceEffects pieces;
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

/// Pieces that the group's last spin did not carry, or carried and that are off now, err in what is added for them.
/// @param to_unbalance of each sensor's reading.
void add_lacking(const SpeedGroup& group, const Regression& fit, const std::vector<MatrixXd>& to_unbalance,
                 PieceEffects& pieces) {
  const auto add = [&](const std::vector<FittedWeight>& list, double times) {
    for (const FittedWeight& piece : list) {
      const auto known = pieces.find(key_of(piece));
      if (known == pieces.end()) continue;
      for (Index s = 0; s < fit.rows.sensors; ++s)
        known->second.effect +=
            times * to_unbalance[static_cast<std::size_t>(s)] * as_matrix(fit.coefficient(s, piece.plane));
    }
  };
  add(group.off, 1.0);
  add(group.on, -1.0);
}

/// The errors of the sensors of one fit. @param inverse of these sensors, P×S.
void add_errors(const SpeedGroup& group, const Regression& fit, const Eigen::MatrixXcd& inverse,
                const MatrixXd& unknowns, Errors errors, Covariances& covariances, SharedErrors& shared) {
  const Rows& rows = fit.rows;
  const Index parts = 2 * inverse.rows();
  MatrixXd by_unknowns(parts, rows.matrix.cols());
  MatrixXd by_last = MatrixXd::Zero(parts, rows.values.size());
  std::vector<MatrixXd> to_unbalance;
  for (Index s = 0; s < rows.sensors; ++s) {
    MatrixXd& to = to_unbalance.emplace_back(parts, 2);
    for (Index p = 0; p < inverse.rows(); ++p) to.block<2, 2>(2 * p, 0) = as_matrix(inverse(p, s));
    by_unknowns.middleCols(rows.unknown_at(s), rows.unknowns_each) = to * unknowns;
    if (errors == Errors::of_present) by_last.middleCols(rows.reading_at(s, rows.spins - 1), 2) = to;
  }
  const MatrixXd from_fit = by_unknowns * fit.estimator;
  const MatrixXd from_rows = from_fit + by_last;
  const auto spins = static_cast<std::size_t>(rows.spins);
  covariances.readings += carried_blocks(from_rows, rows.noise, 0, spins, 0);
  covariances.prior += carried_blocks(from_rows, rows.noise, spins, rows.noise.size(), rows.readings());
  for (const TurningError& turning : group.design.turnings)
    effect_of_turn(shared, turning.turned_rad, parts) +=
        group.design.u_turned_rad * columns_of_spins(from_rows, rows, turning.spins) * turning_effect(turning, fit);
  const std::vector<Phasor> coefficients = fit.coefficients();
  for (const SettingError& setting : group.design.settings)
    shared.pieces.at(key_of(setting.weight)).effect +=
        columns_of_spins(from_fit, rows, setting.spins) * setting_effect(rows, setting.plane, coefficients);
  if (errors == Errors::of_present) add_lacking(group, fit, to_unbalance, shared.pieces);
}

/// Sensors that share nothing are fitted each for itself; a prior ties them all together.
void fit(const std::vector<SpinReading>& spins, std::size_t sensors, bool weighted, SpeedGroup& group) {
  const std::size_t together = group.prior != nullptr ? sensors : 1;
  for (std::size_t first = 0; first < sensors; first += together) {
    group.fits.push_back(regress(group.design, rows_of(group.design, spins, first, together, group.prior), weighted));
    const Regression& found = group.fits.back();
    for (Index s = 0; s < found.rows.sensors; ++s) {
      group.as_found.push_back(found.as_found(s));
      if (group.design.turned) group.adapters.push_back(found.adapters(s));
      for (Index p = 0; p < group.design.plane_count; ++p)
        group.coefficients.push_back({found.coefficient(s, p), found.coefficient_covariance(s, p)});
    }
  }
}

}  // namespace

std::vector<SpeedGroup> groups_of(const std::vector<std::vector<SpinReading>>& spins, int plane_count,
                                  std::size_t sensors, const InfluenceOptions& options, bool weighted) {
  std::vector<SpeedGroup> groups;
  const std::vector<FittedWeight>& now = spins.back().back().fitted;
  for (const auto& of_speed : spins) {
    SpeedGroup group;
    group.spins = &of_speed;
    group.design = design_of(of_speed, plane_count, options.setting);
    if (weighted && options.prior && &of_speed == &spins.back()) group.prior = &*options.prior;
    fit(of_speed, sensors, weighted, group);
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
  const auto sensors = static_cast<Index>(groups.front().sensors());
  Eigen::MatrixXcd alpha(sensors * static_cast<Index>(groups.size()), groups.front().design.plane_count);
  for (Index p = 0; p < alpha.cols(); ++p) {
    alpha.col(p) =
        of_every_row(groups, [&](const SpeedGroup& group, std::size_t s) { return group.coefficient(s, p).value; });
  }
  return alpha;
}

Eigen::VectorXcd present_readings(const std::vector<SpeedGroup>& groups) {
  return of_every_row(groups, [](const SpeedGroup& group, std::size_t s) {
    Phasor reading = group.last().vectors[s];
    for (Index p = 0; p < group.lacking_kg_m.size(); ++p)
      reading += group.coefficient(s, p).value * group.lacking_kg_m(p);
    return group.design.turned ? reading - adapter_factor(group.last()) * group.adapters[s] : reading;
  });
}

Eigen::VectorXcd as_found_readings(const std::vector<SpeedGroup>& groups) {
  return of_every_row(groups, [](const SpeedGroup& group, std::size_t s) { return group.as_found[s]; });
}

Eigen::VectorXcd adapter_readings(const std::vector<SpeedGroup>& groups) {
  return of_every_row(groups, [](const SpeedGroup& group, std::size_t s) { return group.adapters[s]; });
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
  Covariances covariances{nothing, nothing, nothing, nothing};
  SharedErrors shared{pieces_of(groups, parts), {}};
  Index row = 0;
  for (const SpeedGroup& group : groups) {
    const MatrixXd unknowns = by_unknowns(group, unbalance, errors);
    for (const Regression& fit : group.fits) {
      add_errors(group, fit, inverse.middleCols(row, fit.rows.sensors), unknowns, errors, covariances, shared);
      row += fit.rows.sensors;
    }
  }
  for (const auto& [key, piece] : shared.pieces) {
    const MatrixXd effect = piece.effect * piece.errors;
    covariances.setting += effect * effect.transpose();
  }
  for (const TurnEffect& turn : shared.turns) covariances.turning += turn.effect * turn.effect.transpose();
  return covariances;
}

}  // namespace counterspot
