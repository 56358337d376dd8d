#include <algorithm>
#include <cmath>

#include "counterspot/solve/solution.hpp"

namespace counterspot {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;

/// ½|U|² of each part: any direction is as likely as another, and it is the same for all planes.
MatrixXd of_unknown_direction(const std::vector<Phasor>& unbalance) {
  const auto parts = 2 * static_cast<Index>(unbalance.size());
  Eigen::VectorXd along(parts);
  Eigen::VectorXd across(parts);
  for (Index p = 0; 2 * p < parts; ++p) {
    const Phasor& one = unbalance[static_cast<std::size_t>(p)];
    along.segment<2>(2 * p) << one.real(), one.imag();
    across.segment<2>(2 * p) << -one.imag(), one.real();
  }
  return 0.5 * (along * along.transpose() + across * across.transpose());
}

/// In the shaft's planes; where two ends cannot be told apart in them, all of both at each.
AdapterShare share_in(const Shaft& shaft, const Adapters& adapters) {
  if (shaft.supports && shaft.planes.size() > 1) return adapters_in_planes(adapters, shaft);
  const auto parts = 2 * static_cast<Index>(shaft.planes.size());
  const double most = std::abs(adapters.unbalance_kg_m[0]) + std::abs(adapters.unbalance_kg_m[1]);
  return {std::vector<Phasor>(shaft.planes.size(), most),
          MatrixXd(adapters.covariance.trace() / 2.0 * MatrixXd::Identity(parts, parts))};
}

void add(InfluenceSummary& influence, ErrorSource source, const MatrixXd& covariance) {
  influence.residual_covariance += covariance;
  influence.budget.push_back({source, covariance});
}

MatrixXd readings_part(const InfluenceSummary& influence) {
  for (const ErrorShare& share : influence.budget)
    if (share.source == ErrorSource::readings) return share.covariance;
  return MatrixXd::Zero(influence.residual_covariance.rows(), influence.residual_covariance.cols());
}

}  // namespace

void add_rig_errors(InfluenceSummary& influence, const RigKnowledge& rig, const Shaft& shaft,
                    bool adapters_taken_away) {
  if (!influence.uncertainty_known) return;
  const Index parts = influence.residual_covariance.rows();
  if (rig.adapters && !adapters_taken_away) {
    const AdapterShare share = share_in(shaft, *rig.adapters);
    add(influence, ErrorSource::adapters, of_unknown_direction(share.unbalance_kg_m) + share.covariance);
  }
  if (rig.remount_kg_m > 0.0)
    add(influence, ErrorSource::mounting, rig.remount_kg_m * rig.remount_kg_m * MatrixXd::Identity(parts, parts));
  if (rig.umar_kg_m > 0.0) {
    const Eigen::ArrayXd noise = readings_part(influence).diagonal().array();
    const Eigen::ArrayXd beyond = (0.25 * rig.umar_kg_m * rig.umar_kg_m - noise).max(0.0);
    add(influence, ErrorSource::rig, MatrixXd(beyond.matrix().asDiagonal()));
  }
}

BudgetTable budget_table(const Solution& solution, const Shaft& shaft) {
  std::vector<Phasor> residual;
  for (const PlaneUnbalance& plane : solution.influence.planes) residual.push_back(plane.residual_kg_m);
  BudgetTable table;
  for (const Held& held : solution.judgement.held) table.places.push_back(held.place.text());
  for (const ErrorShare& share : solution.influence.budget) {
    BudgetRow row{share.source, {}};
    for (const Held& held : judge(shaft, solution.limits, residual, share.covariance).held)
      row.u_kg_m.push_back(held.u_residual_kg_m);
    for (const ModalPart& mode : solution.modes)
      row.u_kg_m.push_back(u_of_magnitude(mode.unbalance_kg_m, covariance_in_mode(mode.shape, share.covariance)));
    table.rows.push_back(std::move(row));
  }
  if (table.rows.empty() || solution.modes.empty()) return table;
  BudgetRow unseen{ErrorSource::unseen, std::vector<double>(table.places.size() - solution.modes.size(), 0.0)};
  for (const ModalPart& mode : solution.modes) unseen.u_kg_m.push_back(mode.u_unseen_kg_m);
  table.rows.push_back(std::move(unseen));
  return table;
}

}  // namespace counterspot
