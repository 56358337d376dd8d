#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>

#include "counterspot/influence/agreement.hpp"
#include "counterspot/solve/repeats.hpp"
#include "counterspot/tracking/comparison.hpp"
#include "influence/design_matrix.hpp"
#include "solve/same_weights.hpp"

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

/// What each sensor read at most in the spins but one.
class LargestReadings {
 public:
  explicit LargestReadings(const std::vector<SpinReading>& spins) {
    for (std::size_t k = 0; k < spins.size(); ++k) {
      sensors_.resize(std::max(sensors_.size(), spins[k].vectors.size()));
      for (std::size_t s = 0; s < spins[k].vectors.size(); ++s) add(sensors_[s], k, std::abs(spins[k].vectors[s]));
    }
  }
  double without(std::size_t k, std::size_t sensor) const {
    const Two& two = sensors_[sensor];
    return two.spin == k ? two.second : two.largest;
  }

 private:
  struct Two {
    std::size_t spin = 0;
    double largest = 0.0;
    double second = 0.0;
  };
  static void add(Two& two, std::size_t k, double size) {
    if (size <= two.largest) {
      two.second = std::max(two.second, size);
      return;
    }
    two = {k, size, two.largest};
  }

  std::vector<Two> sensors_;
};

/// The first spin of the same weights, for each spin: itself, if there is none before it.
std::vector<std::size_t> first_like(const std::vector<SpinReading>& spins) {
  std::map<WeightsKey, std::size_t> known;
  std::vector<std::size_t> first;
  for (std::size_t k = 0; k < spins.size(); ++k) {
    WeightsKey key = weights_key(spins[k]);
    key.first = key.first.value_or(0.0);
    first.push_back(known.try_emplace(std::move(key), k).first->second);
  }
  return first;
}

Expected as_like_spin(const SpinReading& like) {
  Expected expected{fmt::format("spin '{}'", like.label), like.vectors, {}};
  for (std::size_t s = 0; s < like.vectors.size(); ++s) expected.least.push_back(noise_of(like, s));
  return expected;
}

/// @param expected of spin k, one per sensor. Empty if that of a sensor is not known.
std::optional<Expected> worth_comparing(const SpinReading& spin, std::size_t k, const LargestReadings& largest,
                                        const std::vector<std::optional<ExpectedReading>>& expected,
                                        const std::string& source) {
  Expected all{source, {}, {}};
  for (std::size_t s = 0; s < expected.size(); ++s) {
    if (!expected[s]) return std::nullopt;
    all.vectors.push_back(expected[s]->value);
    all.least.push_back(
        std::max({least_of_largest * largest.without(k, s), noise_of(spin, s), least_u * expected[s]->u()}));
  }
  return all;
}

/// The first spin, and what the change of weights since then does by the coefficients of earlier shafts.
std::optional<Expected> by_earlier_shafts(const std::vector<SpinReading>& spins, std::size_t k,
                                          const LargestReadings& largest, std::size_t planes,
                                          const InfluenceOptions& options) {
  const std::vector<SpinReading> pair = {spins[0], spins[k]};
  if (!turned_alike(pair[0], pair[1]) || !uncertainties_known(pair)) return std::nullopt;
  std::vector<Phasor> coefficients;
  const Eigen::VectorXd& mean = options.prior->mean;
  for (Eigen::Index i = 0; i + 1 < mean.size(); i += 2) coefficients.emplace_back(mean(i), mean(i + 1));
  const Agreement agreement = agreement_of(pair, static_cast<int>(planes), coefficients, options);
  return worth_comparing(spins[k], k, largest, agreement.expected[1],
                         fmt::format("spin '{}' and earlier shafts", spins[0].label));
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
  const LargestReadings largest(spins);
  for (std::size_t k = 0; k < spins.size(); ++k) {
    const auto expected = worth_comparing(spins[k], k, largest, agreement.expected[k], "the other spins");
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
  const std::vector<std::size_t> like = first_like(spins);
  const LargestReadings largest(spins);
  for (std::size_t k = 1; k < spins.size(); ++k) {
    std::optional<Expected> expected;
    if (like[k] != k)
      expected = as_like_spin(spins[like[k]]);
    else if (options.prior)
      expected = by_earlier_shafts(spins, k, largest, planes.size(), options);
    if (!expected) continue;
    Warnings said = compare_readings(sensors, spins[k].vectors, *expected);
    label(said, spins[k].label);
    all.insert(all.end(), said.begin(), said.end());
  }
  return all.empty() && !options.prior ? odd_one_out(spins, planes, sensors, options) : all;
}

}  // namespace counterspot
