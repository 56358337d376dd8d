#include "counterspot/influence/influence.hpp"

#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <Eigen/QR>
#include <algorithm>
#include <cmath>

#include "algebra/pseudo_inverse.hpp"
#include "counterspot/influence/agreement.hpp"
#include "influence/correction.hpp"
#include "influence/design_matrix.hpp"
#include "influence/regression.hpp"
#include "influence/speeds.hpp"

namespace counterspot {

namespace {

using Names = std::vector<std::string>;

constexpr double condition_to_warn = 10.0;  // an error of a reading may grow tenfold in the answer
constexpr double clear_effect = 3.0;        // coefficient over its uncertainty, below which a trial did nothing
constexpr double weak_effect = 10.0;        // … and below which it should have been heavier
constexpr double weak_change = 0.1;         // of the as-found reading, where no uncertainty is known
constexpr double no_change = 1e-6;          // … at which the reading did not change at all

using Groups = std::vector<std::vector<SpinReading>>;

struct Sets {
  const Groups& groups;
  const Names& planes;
  const Names& sensors;
  const InfluenceOptions& options;
};

/// " at 1500 rpm" where there are several speeds.
std::string at_speed(const Sets& sets, const SpinReading& spin) {
  return sets.groups.size() > 1 && spin.speed_rad_s ? fmt::format(" at {:.0f} rpm", rpm(*spin.speed_rad_s)) : "";
}

bool refuse(InfluenceSummary& summary, InfluenceStatus status, std::string what, std::string remedy) {
  summary.status = status;
  summary.refusal = {std::move(what), std::move(remedy)};
  return false;
}

/// Can these spins tell the planes apart, before any reading is looked at? What a prior says needs no trial weight.
bool trials_suffice(const Sets& sets, const SpeedGroup& group, InfluenceSummary& summary) {
  if (group.prior != nullptr) return true;
  const Design& design = group.design;
  const std::string where = at_speed(sets, group.last());
  for (Eigen::Index p = 0; p < design.plane_count; ++p) {
    if ((design.weights.col(p).array() != design.weights(0, p)).any()) continue;
    return refuse(
        summary, InfluenceStatus::too_few_spins,
        fmt::format("no spin{} changes the weight at plane {}", where, sets.planes[static_cast<std::size_t>(p)]),
        "make a spin with a trial weight there");
  }
  const std::size_t needed = sets.planes.size() + (design.turned ? 2 : 1);
  if (group.spins->size() < needed) {
    return refuse(summary, InfluenceStatus::too_few_spins,
                  fmt::format("{} spins{} are too few for {} planes{}", group.spins->size(), where, sets.planes.size(),
                              design.turned ? " and the adapters" : ""),
                  fmt::format("make {} spins, each with other weights", needed));
  }
  const double condition = condition_of_trials(design);
  summary.trial_condition = std::max(summary.trial_condition, condition);
  if (condition < sets.options.refuse_condition) return true;
  return refuse(summary, InfluenceStatus::trials_alike,
                fmt::format("the weights of the spins{} do not tell the planes{} apart", where,
                            design.turned ? " and the adapters" : ""),
                "make a spin with a trial weight at one plane only");
}

bool enough_sensors(const Sets& sets, InfluenceSummary& summary) {
  const std::size_t rows = sets.sensors.size() * sets.groups.size();
  if (rows >= sets.planes.size() || (sets.planes.size() > 2 && rows >= 2)) return true;
  return refuse(summary, InfluenceStatus::too_few_sensors,
                fmt::format("{} sensors cannot tell {} planes apart", sets.sensors.size(), sets.planes.size()),
                "there must be at least as many sensors as planes");
}

/// How clearly a plane's weights showed, at the speed where they show best: the largest coefficient over its
/// uncertainty, or over the as-found reading.
double clearest_effect(const std::vector<SpeedGroup>& groups, int plane, bool known) {
  double clearest = 0.0;
  for (const SpeedGroup& group : groups) {
    const double weight_kg_m = group.design.weights.col(plane).cwiseAbs().maxCoeff();
    for (std::size_t s = 0; s < group.sensors(); ++s) {
      const CoefficientEstimate& coefficient = group.coefficient(s, plane);
      const double size = std::abs(coefficient.value);
      const double u = std::sqrt(coefficient.covariance.trace() / 2.0);
      const double against = known ? u : std::abs(group.as_found[s]) / weight_kg_m;
      if (size > 0.0) clearest = std::max(clearest, size / std::max(against, 1e-300));
    }
  }
  return clearest;
}

bool trials_showed(const Sets& sets, const std::vector<SpeedGroup>& groups, InfluenceSummary& summary) {
  if (groups.back().prior != nullptr) return true;
  const bool known = summary.uncertainty_known;
  for (int p = 0; p < groups.front().design.plane_count; ++p) {
    const std::string& plane = sets.planes[static_cast<std::size_t>(p)];
    const double effect = clearest_effect(groups, p, known);
    if (effect < (known ? clear_effect : no_change)) {
      return refuse(summary, InfluenceStatus::trial_no_effect,
                    fmt::format("the trial weight at plane {} changed nothing that can be told from the noise", plane),
                    "fit a heavier one and check that it was really on the shaft");
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

/// What several planes can do, each row weighted: the planes that are told apart, and the answer's inverse.
struct Separation {
  std::vector<Eigen::Index> kept;
  std::vector<std::string> left_out;  ///< one per plane, the reason; empty: kept
  Eigen::MatrixXcd inverse;           ///< P×M; rows of planes left out are 0
};

/// The relative uncertainty of a plane's effect over all rows.
double uncertainty_of_effect(const std::vector<SpeedGroup>& groups, int plane, const Eigen::VectorXd& weights,
                             double length) {
  double squared = 0.0;
  Eigen::Index row = 0;
  for (const SpeedGroup& group : groups) {
    for (std::size_t s = 0; s < group.sensors(); ++s, ++row)
      squared += weights(row) * weights(row) * group.coefficient(s, plane).covariance.trace();
  }
  return std::sqrt(squared) / length;
}

/// Column-pivoted QR (Businger & Golub 1965) of α with columns of length one: |R_kk| is what a plane can do that the
/// planes before it cannot.
void leave_out_dependent(const Sets& sets, const std::vector<SpeedGroup>& groups, const Eigen::MatrixXcd& weighted,
                         const Eigen::VectorXd& weights, bool known, Separation& separation) {
  const Eigen::VectorXd lengths = weighted.colwise().norm().transpose();
  const Eigen::MatrixXcd even = weighted * lengths.cwiseMax(1e-300).cwiseInverse().asDiagonal();
  const Eigen::ColPivHouseholderQR<Eigen::MatrixXcd> qr(even);
  for (Eigen::Index k = 0; k < even.cols(); ++k) {
    const Eigen::Index plane = qr.colsPermutation().indices()(k);
    const double own = k < even.rows() ? std::abs(qr.matrixR()(k, k)) : 0.0;
    double needed = sets.options.least_own_effect;
    if (known)
      needed = std::max(needed,
                        clear_effect * uncertainty_of_effect(groups, static_cast<int>(plane), weights, lengths(plane)));
    if (k < 2 || own >= needed) {
      separation.kept.push_back(plane);
      continue;
    }
    separation.left_out[static_cast<std::size_t>(plane)] =
        k >= even.rows()
            ? fmt::format("{} readings tell {} planes apart at most", even.rows(), even.rows())
            : fmt::format("only {:.1f} % of what a weight there does could not be done at the other planes",
                          100.0 * own);
  }
  std::sort(separation.kept.begin(), separation.kept.end());
}

Separation separate(const Sets& sets, const std::vector<SpeedGroup>& groups, const Eigen::MatrixXcd& alpha,
                    bool known) {
  Separation separation;
  separation.left_out.resize(sets.planes.size());
  const Eigen::VectorXd weights = row_weights(groups, known);
  const Eigen::MatrixXcd weighted = weights.asDiagonal() * alpha;
  if (alpha.cols() > 2) {
    leave_out_dependent(sets, groups, weighted, weights, known, separation);
  } else {
    for (Eigen::Index p = 0; p < alpha.cols(); ++p) separation.kept.push_back(p);
  }
  const Eigen::MatrixXcd kept = weighted(Eigen::all, separation.kept);
  const Eigen::VectorXd scales = kept.colwise().norm().cwiseInverse().transpose();
  const Eigen::MatrixXcd scaled = kept * scales.asDiagonal();
  separation.inverse = Eigen::MatrixXcd::Zero(alpha.cols(), alpha.rows());
  separation.inverse(separation.kept, Eigen::all) = scales.asDiagonal() * pseudo_inverse(scaled) * weights.asDiagonal();
  return separation;
}

void say_left_out(const Sets& sets, const Separation& separation, InfluenceSummary& summary) {
  for (std::size_t p = 0; p < sets.planes.size(); ++p) {
    if (separation.left_out[p].empty()) continue;
    summary.warnings.push_back(
        {WarningCode::plane_left_out, std::nullopt,
         fmt::format("plane {} has no part in the answer: {}", sets.planes[p], separation.left_out[p])});
  }
}

/// The spin without which the others agree best; of those that are alike in this the last one, on which a verdict
/// rests.
std::size_t worst_spin(const Agreement& agreement) {
  constexpr double alike = 4.0;  // of chi-squared
  const double least = *std::min_element(agreement.without.begin(), agreement.without.end());
  std::size_t k = agreement.without.size() - 1;
  while (agreement.without[k] > least + alike) --k;
  return k;
}

/// What the spin reads over what the others lead one to expect of it, at the sensors where that is beyond chance, or
/// at the one where it is furthest off.
void say_what_it_reads(const Sets& sets, const SpinReading& spin,
                       const std::vector<std::optional<ExpectedReading>>& expected, Warning& warning) {
  constexpr double once_in_a_hundred = 9.21;  // chi-squared, two degrees of freedom
  double most = 0.0;
  for (const auto& each : expected) most = std::max(most, each ? each->chi_squared : 0.0);
  std::string words;
  for (std::size_t s = 0; s < expected.size(); ++s) {
    if (!expected[s] || expected[s]->chi_squared < std::min(most, once_in_a_hundred)) continue;
    warning.sensors.push_back(sets.sensors[s]);
    const Phasor ratio = spin.vectors[s] / (expected[s]->value == 0.0 ? Phasor(1e-300) : expected[s]->value);
    words +=
        fmt::format("{} sensor {} reads {:.2g} times what the other spins lead one to expect, {:.0f} deg from it",
                    words.empty() ? "" : ",", sets.sensors[s], std::abs(ratio), std::abs(degrees(std::arg(ratio))));
  }
  warning.spins.push_back(spin.label);
  warning.message += fmt::format(": in spin '{}'{}", spin.label, words);
}

Warning disagreement(const Sets& sets, const SpeedGroup& group) {
  if (group.prior != nullptr) {
    return {WarningCode::out_of_band, std::nullopt,
            "the spins of this shaft do not agree with the coefficients of its family"};
  }
  InfluenceOptions alone = sets.options;
  alone.prior.reset();
  const Agreement agreement =
      agreement_of(*group.spins, group.design.plane_count, values_of(group.coefficients), alone);
  Warning warning{WarningCode::spins_disagree, std::nullopt,
                  fmt::format("the {} spins{} contradict one another beyond their uncertainty", group.spins->size(),
                              at_speed(sets, group.last()))};
  const std::size_t k = worst_spin(agreement);
  if (agreement.without[k] < agreement.chi_squared)
    say_what_it_reads(sets, (*group.spins)[k], agreement.expected[k], warning);
  return warning;
}

/// How many degrees of freedom the stated covariance of a group's rows has itself.
double of_covariance(const SpeedGroup& group) {
  return group.prior != nullptr ? group.prior->degrees_of_freedom : std::numeric_limits<double>::infinity();
}

/// Rows that contradict one another, at all sensors together or at one: said, and the uncertainty widened to cover it
/// (Birge ratio).
double widening(const Sets& sets, const std::vector<SpeedGroup>& groups, InfluenceSummary& summary) {
  int degrees = 0;
  double chi_squared = 0.0;
  double worst_ratio = 0.0;
  bool contradicted = false;
  const SpeedGroup* worst = nullptr;
  for (const SpeedGroup& group : groups) {
    for (const Regression& fit : group.fits) {
      const int of_fit = fit.degrees_of_freedom();
      if (of_fit <= 0) continue;
      degrees += of_fit;
      chi_squared += fit.chi_squared;
      contradicted = contradicted || beyond_chance(fit.chi_squared, of_fit, of_covariance(group));
      if (fit.chi_squared / of_fit <= worst_ratio) continue;
      worst_ratio = fit.chi_squared / of_fit;
      worst = &group;
    }
  }
  if (degrees <= 0 || !summary.uncertainty_known) return 1.0;
  summary.chi_squared_per_dof = chi_squared / degrees;
  contradicted = contradicted || beyond_chance(chi_squared, degrees, of_covariance(groups.back()));
  if (worst == nullptr || !contradicted) return 1.0;
  summary.warnings.push_back(disagreement(sets, *worst));
  return std::max(1.0, summary.chi_squared_per_dof);
}

/// @param expected of every row.
void fill_speeds(const std::vector<SpeedGroup>& groups, double widen, const Eigen::VectorXcd& present,
                 const Eigen::VectorXcd& expected, InfluenceSummary& summary) {
  Eigen::Index row = 0;
  for (const SpeedGroup& group : groups) {
    SpeedShare share{group.last().speed_rad_s, group.coefficients, {}, {}};
    for (CoefficientEstimate& estimate : share.coefficients) estimate.covariance *= widen;
    for (std::size_t s = 0; s < group.sensors(); ++s, ++row) {
      share.present.push_back(present(row));
      share.expected.push_back(expected(row));
    }
    summary.speeds.push_back(std::move(share));
  }
  summary.coefficients = summary.speeds.back().coefficients;
}

bool planes_differ(const Sets& sets, const Eigen::MatrixXcd& alpha, const Separation& separation,
                   InfluenceSummary& summary) {
  summary.condition_number = scaled_condition(alpha(Eigen::all, separation.kept));
  if (!(summary.condition_number < sets.options.refuse_condition)) {
    return refuse(summary, InfluenceStatus::planes_alike,
                  "the sensors see the same whichever plane carries the weight, so no answer can be given",
                  "move a sensor or a plane further from the other");
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

void fill_adapters(const std::vector<SpeedGroup>& groups, const Separation& separation, double widen,
                   InfluenceSummary& summary) {
  const bool turned = std::all_of(groups.begin(), groups.end(), [](const auto& group) { return group.design.turned; });
  if (!turned) return;
  const Eigen::VectorXcd unbalance = separation.inverse * adapter_readings(groups);
  AdapterShare share{{unbalance.begin(), unbalance.end()},
                     Eigen::MatrixXd::Zero(2 * unbalance.size(), 2 * unbalance.size())};
  if (summary.uncertainty_known)
    share.covariance = widen * covariance_of(groups, separation.inverse, unbalance, Errors::of_adapters).sum();
  summary.adapters = share;
}

/// α·e^{−jγ}·U_adapters of every row.
Eigen::VectorXcd readings_of_adapters(const std::vector<SpeedGroup>& groups, const AdapterShare& adapters) {
  const Eigen::Map<const Eigen::VectorXcd> share(adapters.unbalance_kg_m.data(),
                                                 static_cast<Eigen::Index>(adapters.unbalance_kg_m.size()));
  return all_coefficients(groups) * share * adapter_factor(groups.back().last());
}

/// The same with the pieces that come off taken from what is on the shaft.
std::vector<SpeedGroup> with_pieces_off(std::vector<SpeedGroup> groups, const std::vector<FittedWeight>& coming_off) {
  for (SpeedGroup& group : groups) {
    for (const FittedWeight& piece : coming_off) {
      group.off.push_back(piece);
      group.lacking_kg_m(piece.plane) -= piece.unbalance_kg_m();
    }
  }
  return groups;
}

/// An error of α counts by all that the readings show: the adapters' share too, if it is taken away only after that.
Covariances covariance_of_present(const std::vector<SpeedGroup>& groups, const Separation& separation) {
  return covariance_of(groups, separation.inverse, separation.inverse * present_readings(groups), Errors::of_present);
}

/// All readings as they are, each over its noise, and what the planes may do to them.
ResidualProblem weighted(const std::vector<SpeedGroup>& groups, bool known, const Eigen::MatrixXcd& alpha,
                         const Eigen::VectorXcd& present, const std::vector<double>& most_kg_m) {
  const Eigen::VectorXd weights = row_weights(groups, known);
  return {weights.asDiagonal() * alpha, weights.asDiagonal() * present, as_limits(most_kg_m)};
}

/// @param adapters what the adapters make of every row; zero if nothing is known of them.
void fill_bare(const Sets& sets, const std::vector<SpeedGroup>& groups, const Separation& separation,
               const Eigen::MatrixXcd& alpha, const Eigen::VectorXcd& adapters, double widen,
               InfluenceSummary& summary) {
  const bool known = summary.uncertainty_known;
  const std::vector<SpeedGroup> bare = with_pieces_off(groups, sets.options.coming_off);
  const Eigen::VectorXcd present = present_readings(bare) - adapters;
  const Eigen::VectorXcd unbalance = separation.inverse * present;
  const auto& most = sets.options.most_bare_kg_m.empty() ? sets.options.most_kg_m : sets.options.most_bare_kg_m;
  const Eigen::VectorXcd correction =
      correction_for(weighted(groups, known, alpha, present, most), separation.kept, unbalance, sets.options.least);
  for (std::size_t p = 0; p < summary.planes.size(); ++p) {
    summary.planes[p].bare_kg_m = unbalance(static_cast<Eigen::Index>(p));
    summary.planes[p].bare_correction_kg_m = correction(static_cast<Eigen::Index>(p));
  }
  summary.bare_covariance_change = Eigen::MatrixXd::Zero(2 * unbalance.size(), 2 * unbalance.size());
  if (!known || sets.options.coming_off.empty()) return;
  summary.bare_covariance_change =
      widen * (covariance_of_present(bare, separation).setting - covariance_of_present(groups, separation).setting);
}

void fill(const Sets& sets, const std::vector<SpeedGroup>& groups, const Separation& separation,
          const Eigen::MatrixXcd& alpha, InfluenceSummary& summary) {
  const bool known_adapters = sets.options.adapters && !groups.back().design.turned;
  Eigen::VectorXcd adapters = Eigen::VectorXcd::Zero(alpha.rows());
  if (known_adapters) adapters = readings_of_adapters(groups, *sets.options.adapters);
  const Eigen::VectorXcd present = present_readings(groups) - adapters;
  const Eigen::VectorXcd unbalance = separation.inverse * present;
  const Eigen::VectorXcd as_found = separation.inverse * as_found_readings(groups);
  const Eigen::VectorXcd correction =
      correction_for(weighted(groups, summary.uncertainty_known, alpha, present, sets.options.most_kg_m),
                     separation.kept, unbalance, sets.options.least);
  const double widen = widening(sets, groups, summary);
  fill_speeds(groups, widen, present, present + alpha * correction, summary);
  for (Eigen::Index p = 0; p < unbalance.size(); ++p) {
    summary.planes.push_back(
        {unbalance(p), as_found(p), correction(p), separation.left_out[static_cast<std::size_t>(p)], {}, {}});
  }
  fill_bare(sets, groups, separation, alpha, adapters, widen, summary);
  summary.residual_covariance = Eigen::MatrixXd::Zero(2 * unbalance.size(), 2 * unbalance.size());
  if (summary.uncertainty_known) {
    const Covariances from = covariance_of_present(groups, separation);
    add_share(summary, ErrorSource::readings, widen * from.readings);
    if (groups.back().prior != nullptr) add_share(summary, ErrorSource::earlier_shafts, widen * from.prior);
    add_share(summary, ErrorSource::setting, widen * from.setting);
    if (groups.back().design.turned) add_share(summary, ErrorSource::turning, widen * from.turning);
    if (known_adapters)
      add_taken_away(summary, *sets.options.adapters, groups.back().last(), sets.options.setting.turned_rad);
  }
  fill_adapters(groups, separation, widen, summary);
  summary.inverse = separation.inverse;
  summary.status = InfluenceStatus::solved;
}

}  // namespace

std::string_view error_source_words(ErrorSource source) {
  switch (source) {
    case ErrorSource::readings: return "noise of the readings";
    case ErrorSource::setting: return "setting of the weights";
    case ErrorSource::turning: return "turning against the adapters";
    case ErrorSource::earlier_shafts: return "coefficients of earlier shafts";
    case ErrorSource::adapters: return "adapters";
    case ErrorSource::mounting: return "mounting of the shaft";
    case ErrorSource::unseen: return "what the spins' speeds cannot show";
    case ErrorSource::rig: return "repeatability of the rig";
  }
  return "noise of the readings";
}

std::vector<Phasor> values_of(const std::vector<CoefficientEstimate>& estimates) {
  std::vector<Phasor> values;
  for (const CoefficientEstimate& estimate : estimates) values.push_back(estimate.value);
  return values;
}

InfluenceSummary solve_influence(const std::vector<SpinReading>& spins, const Names& planes, const Names& sensors,
                                 const InfluenceOptions& options) {
  return solve_speeds({spins}, planes, sensors, options);
}

InfluenceSummary solve_speeds(const Groups& spins, const Names& planes, const Names& sensors,
                              const InfluenceOptions& options) {
  const Sets sets{spins, planes, sensors, options};
  InfluenceSummary summary;
  summary.uncertainty_known = std::all_of(spins.begin(), spins.end(), uncertainties_known);
  if (!enough_sensors(sets, summary)) return summary;
  const std::vector<SpeedGroup> groups =
      groups_of(spins, static_cast<int>(planes.size()), sensors.size(), options, summary.uncertainty_known);
  for (const SpeedGroup& group : groups)
    if (!trials_suffice(sets, group, summary)) return summary;
  if (!summary.uncertainty_known) {
    summary.warnings.push_back(
        {WarningCode::no_uncertainty, std::nullopt,
         "readings came without an uncertainty, so the answer has none either; type it with its ± if it is "
         "known"});
  }
  if (!trials_showed(sets, groups, summary)) return summary;
  const Eigen::MatrixXcd alpha = all_coefficients(groups);
  const Separation separation = separate(sets, groups, alpha, summary.uncertainty_known);
  if (!planes_differ(sets, alpha, separation, summary)) return summary;
  say_left_out(sets, separation, summary);
  fill(sets, groups, separation, alpha, summary);
  return summary;
}

}  // namespace counterspot
