#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "counterspot/influence/agreement.hpp"
#include "counterspot/solve/repeats.hpp"
#include "counterspot/tracking/comparison.hpp"
#include "influence/design_matrix.hpp"

namespace counterspot {
namespace {

constexpr double least_noises = 8.0;      // standard uncertainties that a vector must have to be judged by
constexpr double least_of_largest = 0.2;  // of the largest reading: a prediction is not exact
constexpr double least_u = 5.0;           // standard uncertainties of the prediction, so that a factor is one

using Names = std::vector<std::string>;

double noise_of(const SpinReading& spin, std::size_t sensor) {
  return least_noises * std::sqrt(0.5 * spin.covariances[sensor].trace());
}

bool turned_alike(const SpinReading& a, const SpinReading& b) {
  return a.turned_rad.value_or(0.0) == b.turned_rad.value_or(0.0);
}

std::optional<Expected> by_like_spin(const std::vector<SpinReading>& spins, std::size_t k) {
  for (std::size_t j = 0; j < k; ++j) {
    const auto& a = spins[j].fitted;
    const auto& b = spins[k].fitted;
    if (!turned_alike(spins[j], spins[k]) || !std::is_permutation(a.begin(), a.end(), b.begin(), b.end())) continue;
    Expected expected{fmt::format("spin '{}'", spins[j].label), spins[j].vectors, {}};
    for (std::size_t s = 0; s < spins[j].vectors.size(); ++s) expected.least.push_back(noise_of(spins[j], s));
    return expected;
  }
  return std::nullopt;
}

/// @param expected of spin k, one per sensor. Empty if that of a sensor is not known.
std::optional<Expected> worth_comparing(const std::vector<SpinReading>& spins, std::size_t k,
                                        const std::vector<std::optional<ExpectedReading>>& expected,
                                        const std::string& source) {
  Expected all{source, {}, {}};
  for (std::size_t s = 0; s < expected.size(); ++s) {
    if (!expected[s]) return std::nullopt;
    double largest = 0.0;
    for (std::size_t j = 0; j < spins.size(); ++j)
      if (j != k) largest = std::max(largest, std::abs(spins[j].vectors[s]));
    all.vectors.push_back(expected[s]->value);
    all.least.push_back(std::max({least_of_largest * largest, noise_of(spins[k], s), least_u * expected[s]->u()}));
  }
  return all;
}

/// The first spin, and what the change of weights since then does by the coefficients of earlier shafts.
std::optional<Expected> by_earlier_shafts(const std::vector<SpinReading>& spins, std::size_t k, std::size_t planes,
                                          const InfluenceOptions& options) {
  const std::vector<SpinReading> pair = {spins[0], spins[k]};
  if (!turned_alike(pair[0], pair[1]) || !uncertainties_known(pair)) return std::nullopt;
  std::vector<Phasor> coefficients;
  const Eigen::VectorXd& mean = options.prior->mean;
  for (Eigen::Index i = 0; i + 1 < mean.size(); i += 2) coefficients.emplace_back(mean(i), mean(i + 1));
  const Agreement agreement = agreement_of(pair, static_cast<int>(planes), coefficients, options);
  return worth_comparing(spins, k, agreement.expected[1], fmt::format("spin '{}' and earlier shafts", spins[0].label));
}

void label(Warnings& warnings, const std::string& spin) {
  for (Warning& warning : warnings) warning.spins = {spin};
}

/// The one spin that does not go with the others.
Warnings odd_one_out(const std::vector<SpinReading>& spins, const Names& planes, const Names& sensors,
                     InfluenceOptions options) {
  Warnings found;
  options.prior.reset();
  if (spins.size() < planes.size() + 2 || !uncertainties_known(spins)) return found;
  const InfluenceSummary summary = solve_influence(spins, planes, sensors, options);
  if (!summary.usable()) return found;
  const Agreement agreement =
      agreement_of(spins, static_cast<int>(planes.size()), values_of(summary.coefficients), options);
  for (std::size_t k = 0; k < spins.size(); ++k) {
    const auto expected = worth_comparing(spins, k, agreement.expected[k], "the other spins");
    if (!expected) continue;
    Warnings said = compare_readings(sensors, spins[k].vectors, *expected);
    if (said.empty()) continue;
    if (!found.empty()) return {};
    label(said, spins[k].label);
    found = said;
  }
  return found;
}

}  // namespace

Warnings compare_spins(const std::vector<SpinReading>& spins, const Names& planes, const Names& sensors,
                       const InfluenceOptions& options) {
  Warnings all;
  for (std::size_t k = 1; k < spins.size(); ++k) {
    auto expected = by_like_spin(spins, k);
    if (!expected && options.prior) expected = by_earlier_shafts(spins, k, planes.size(), options);
    if (!expected) continue;
    Warnings said = compare_readings(sensors, spins[k].vectors, *expected);
    label(said, spins[k].label);
    all.insert(all.end(), said.begin(), said.end());
  }
  return all.empty() && !options.prior ? odd_one_out(spins, planes, sensors, options) : all;
}

}  // namespace counterspot
