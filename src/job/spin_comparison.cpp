#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "counterspot/comparison.hpp"
#include "counterspot/repeats.hpp"

namespace counterspot {
namespace {

constexpr double least_noises = 8.0;      // standard uncertainties that a vector must have to be judged by
constexpr double least_of_largest = 0.2;  // of the largest reading: a prediction is not exact

using Names = std::vector<std::string>;

double noise_of(const SpinReading& spin, std::size_t sensor) {
  return least_noises * std::sqrt(0.5 * spin.covariances[sensor].trace());
}

std::vector<Phasor> weights_of(const SpinReading& spin, std::size_t planes) {
  std::vector<Phasor> weights(planes);
  for (const FittedWeight& piece : spin.fitted)
    weights[static_cast<std::size_t>(piece.plane)] += piece.unbalance_kg_m();
  return weights;
}

std::optional<Expected> by_like_spin(const std::vector<SpinReading>& spins, std::size_t k) {
  for (std::size_t j = 0; j < k; ++j) {
    const auto& a = spins[j].fitted;
    const auto& b = spins[k].fitted;
    if (!std::is_permutation(a.begin(), a.end(), b.begin(), b.end())) continue;
    Expected expected{fmt::format("spin '{}'", spins[j].label), spins[j].vectors, {}};
    for (std::size_t s = 0; s < spins[j].vectors.size(); ++s) expected.least.push_back(noise_of(spins[j], s));
    return expected;
  }
  return std::nullopt;
}

/// The reading of another spin, and what the change of weights since then does. @param coefficients sensor-major.
Expected by_coefficients(const std::vector<SpinReading>& spins, std::size_t k, std::size_t from, std::size_t planes,
                         const std::vector<Phasor>& coefficients, std::string source) {
  Expected expected{std::move(source), spins[from].vectors, {}};
  const auto now = weights_of(spins[k], planes);
  const auto before = weights_of(spins[from], planes);
  for (std::size_t s = 0; s < expected.vectors.size(); ++s) {
    double largest = 0.0;
    for (std::size_t j = 0; j < spins.size(); ++j) {
      if (j != k) largest = std::max(largest, std::abs(spins[j].vectors[s]));
    }
    expected.least.push_back(std::max(least_of_largest * largest, noise_of(spins[from], s)));
    for (std::size_t p = 0; p < planes; ++p) expected.vectors[s] += coefficients[s * planes + p] * (now[p] - before[p]);
  }
  return expected;
}

std::vector<Phasor> coefficients_of(const CoefficientPrior& prior) {
  std::vector<Phasor> coefficients;
  for (Eigen::Index i = 0; i + 1 < prior.mean.size(); i += 2)
    coefficients.emplace_back(prior.mean(i), prior.mean(i + 1));
  return coefficients;
}

std::optional<Expected> by_other_spins(const std::vector<SpinReading>& spins, std::size_t k, const Names& planes,
                                       const Names& sensors, InfluenceOptions options) {
  options.prior.reset();
  std::vector<SpinReading> others = spins;
  others.erase(others.begin() + static_cast<std::ptrdiff_t>(k));
  const InfluenceSummary summary = solve_influence(others, planes, sensors, options);
  if (!summary.usable()) return std::nullopt;
  std::vector<Phasor> coefficients;
  for (const CoefficientEstimate& estimate : summary.coefficients) coefficients.push_back(estimate.value);
  return by_coefficients(spins, k, k == 0 ? 1 : 0, planes.size(), coefficients, "the other spins");
}

void label(Warnings& warnings, const std::string& spin) {
  for (Warning& warning : warnings) warning.spins = {spin};
}

/// The one spin that does not go with the others.
Warnings odd_one_out(const std::vector<SpinReading>& spins, const Names& planes, const Names& sensors,
                     const InfluenceOptions& options) {
  Warnings found;
  if (spins.size() < planes.size() + 2) return found;
  for (std::size_t k = 0; k < spins.size(); ++k) {
    const auto expected = by_other_spins(spins, k, planes, sensors, options);
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
    if (!expected && options.prior)
      expected = by_coefficients(spins, k, 0, planes.size(), coefficients_of(*options.prior),
                                 fmt::format("spin '{}' and earlier shafts", spins[0].label));
    if (!expected) continue;
    Warnings said = compare_readings(sensors, spins[k].vectors, *expected);
    label(said, spins[k].label);
    all.insert(all.end(), said.begin(), said.end());
  }
  return all.empty() && !options.prior ? odd_one_out(spins, planes, sensors, options) : all;
}

}  // namespace counterspot
