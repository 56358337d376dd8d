// The regression and what it says of each spin, against generalised least squares with the whole covariance of all
// readings as one matrix and its inverse, as any textbook has it (J. Johnston, Econometric Methods, from memory):
// x = (XᵀV⁻¹X)⁻¹XᵀV⁻¹z, cov x = (XᵀV⁻¹X)⁻¹, by Eigen's dense LU.
#include <Eigen/Dense>
#include <catch2/catch.hpp>
#include <map>
#include <random>

#include "counterspot/influence/agreement.hpp"
#include "counterspot/influence/influence.hpp"

using namespace counterspot;
using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

namespace {

const std::vector<std::string> names = {"A", "B"};
constexpr Index sensors = 2;
constexpr Index planes = 2;
constexpr double rounding = 1e-9;

Eigen::Matrix2d acting(const Phasor& z) {
  Eigen::Matrix2d matrix;
  matrix << z.real(), -z.imag(), z.imag(), z.real();
  return matrix;
}

Eigen::Vector2d parts(const Phasor& z) {
  return {z.real(), z.imag()};
}

/// Spins of a made-up rig: some pieces stay on for many of them, some are in one alone, some in two; of odd seeds one
/// piece after the other stays to the end.
struct Shop {
  explicit Shop(unsigned seed, bool turned = false) : generator(seed) {
    for (int i = 0; i < 4; ++i) alpha.push_back((i % 3 == 0 ? 900.0 : 200.0) * any());
    const Phasor adapters[] = {0.2 * any(), 0.2 * any()};
    const FittedWeight stays = piece();
    FittedWeight twice = piece();
    std::vector<FittedWeight> all_stay;
    const int count = 6 + static_cast<int>(seed % 7);
    for (int k = 0; k < count; ++k) {
      SpinReading spin{"spin", {}, {}, {}, 170.0};
      if (k > 0) spin.fitted = {piece(k == 1 ? 0 : 1)};
      if (k > 1) spin.fitted.push_back(piece(0));
      if (k > 2) spin.fitted.push_back(stays);
      if (k > 2) spin.fitted.push_back(twice);
      if (k == 5) spin.fitted.push_back(stays);  // two alike
      if (k % 2 == 0) twice = piece();
      if (seed % 2 == 1 && k > 3) all_stay.push_back(piece());  // one more at each spin
      spin.fitted.insert(spin.fitted.end(), all_stay.begin(), all_stay.end());
      if (turned) spin.turned_rad = 1.5 * (k % 3);
      read(spin, turned, adapters);
      spins.push_back(spin);
    }
  }

  double uniform(double from, double to) { return std::uniform_real_distribution<double>(from, to)(generator); }
  Phasor any() { return std::polar(uniform(0.7, 1.3), uniform(0.0, 6.28)); }
  FittedWeight piece(int plane = -1) {
    return {plane < 0 ? static_cast<int>(generator() % 2) : plane, uniform(0.005, 0.02), 0.04, uniform(0.0, 6.28)};
  }
  void read(SpinReading& spin, bool turned, const Phasor* adapters) {
    for (std::size_t s = 0; s < sensors; ++s) {
      Phasor z = std::polar(0.8, 1.0 + 2.0 * static_cast<double>(s));
      for (const FittedWeight& each : spin.fitted)
        z += alpha[planes * s + static_cast<std::size_t>(each.plane)] * each.unbalance_kg_m();
      if (turned) z += std::polar(1.0, -*spin.turned_rad) * adapters[s];
      const double u = uniform(0.001, 0.01);
      spin.vectors.push_back(z + u * any());
      Eigen::Matrix2d root;
      root << u, 0.3 * u, 0.1 * u, 0.8 * u;
      spin.covariances.emplace_back(root * root.transpose());
    }
  }

  std::mt19937 generator;
  std::vector<Phasor> alpha;
  std::vector<SpinReading> spins;
};

/// Everything as one matrix; readings sensor after sensor, in each spin after spin; a prior's rows last.
struct Dense {
  MatrixXd x, noise;
  VectorXd z;
  Index each = 2 + 2 * planes;  // unknowns of a sensor
  Index count = 0;              // of spins
  bool turned = false;
  const std::vector<SpinReading>& spins;
  const InfluenceOptions& options;

  Dense(const std::vector<SpinReading>& of, const InfluenceOptions& with, bool is_turned = false)
      : count(static_cast<Index>(of.size())), turned(is_turned), spins(of), options(with) {
    if (turned) each += 2;
    const Index readings = 2 * sensors * count;
    const Index rows = readings + (options.prior ? options.prior->mean.size() : 0);
    x = MatrixXd::Zero(rows, sensors * each);
    noise = MatrixXd::Zero(rows, rows);
    z = VectorXd::Zero(rows);
    for (Index s = 0; s < sensors; ++s) {
      for (Index k = 0; k < count; ++k) {
        const SpinReading& spin = spins[static_cast<std::size_t>(k)];
        x.block<2, 2>(row(s, k), each * s).setIdentity();
        for (const FittedWeight& piece : spin.fitted)
          x.block<2, 2>(row(s, k), each * s + 2 + 2 * piece.plane) += acting(piece.unbalance_kg_m());
        if (turned) x.block<2, 2>(row(s, k), each * s + each - 2) = acting(std::polar(1.0, -*spin.turned_rad));
        z.segment<2>(row(s, k)) = parts(spin.vectors[static_cast<std::size_t>(s)]);
        noise.block<2, 2>(row(s, k), row(s, k)) = spin.covariances[static_cast<std::size_t>(s)];
      }
      if (options.prior) x.block<4, 4>(readings + 4 * s, each * s + 2).setIdentity();
    }
    if (!options.prior) return;
    z.tail(options.prior->mean.size()) = options.prior->mean;
    noise.bottomRightCorner(rows - readings, rows - readings) = options.prior->covariance;
  }

  Index row(Index s, Index k) const { return 2 * (s * count + k); }

  /// One per piece, whatever it is in: what its two errors do to all readings.
  std::vector<MatrixXd> errors_of_pieces(const std::vector<Phasor>& alpha) const {
    std::vector<FittedWeight> known;
    std::vector<MatrixXd> all;
    for (Index k = 0; k < count; ++k) {
      for (const FittedWeight& piece : spins[static_cast<std::size_t>(k)].fitted) {
        const auto at = static_cast<std::size_t>(std::find(known.begin(), known.end(), piece) - known.begin());
        if (at == known.size()) {
          known.push_back(piece);
          all.push_back(MatrixXd::Zero(z.size(), 2));
        }
        Eigen::Matrix2d errors;
        errors << options.setting.mass_fraction * parts(piece.unbalance_kg_m()),
            options.setting.angle_rad * parts(Phasor(0.0, 1.0) * piece.unbalance_kg_m());
        for (Index s = 0; s < sensors; ++s)
          all[at].middleRows<2>(row(s, k)) +=
              acting(alpha[static_cast<std::size_t>(planes * s + piece.plane)]) * errors;
      }
    }
    return all;
  }
  /// One per angle at which the shaft stood.
  std::vector<VectorXd> errors_of_turning(const VectorXd& found) const {
    std::map<double, VectorXd> all;
    for (Index k = 0; turned && k < count; ++k) {
      const double angle = *spins[static_cast<std::size_t>(k)].turned_rad;
      VectorXd& error = all.try_emplace(angle, VectorXd::Zero(z.size())).first->second;
      for (Index s = 0; s < sensors; ++s) {
        const Phasor adapters(found(each * (s + 1) - 2), found(each * (s + 1) - 1));
        error.segment<2>(row(s, k)) =
            options.setting.turned_rad * parts(Phasor(0.0, -1.0) * std::polar(1.0, -angle) * adapters);
      }
    }
    std::vector<VectorXd> list;
    for (const auto& [angle, error] : all) list.push_back(error);
    return list;
  }
  MatrixXd covariance(const VectorXd& found) const {
    MatrixXd all = noise;
    for (const MatrixXd& error : errors_of_pieces(coefficients(found))) all += error * error.transpose();
    for (const VectorXd& error : errors_of_turning(found)) all += error * error.transpose();
    return all;
  }
  std::vector<Phasor> coefficients(const VectorXd& found) const {
    std::vector<Phasor> all;
    for (Index s = 0; s < sensors; ++s)
      for (Index p = 0; p < planes; ++p) all.emplace_back(found(each * s + 2 + 2 * p), found(each * s + 3 + 2 * p));
    return all;
  }
  MatrixXd estimator(const MatrixXd& v) const {
    const MatrixXd inverse = v.inverse();
    return (x.transpose() * inverse * x).inverse() * x.transpose() * inverse;
  }
  /// Sensors that no prior ties together are fitted each for itself.
  MatrixXd fitted_together(const MatrixXd& v) const {
    if (options.prior) return v;
    MatrixXd apart = MatrixXd::Zero(v.rows(), v.cols());
    for (Index s = 0; s < sensors; ++s)
      apart.block(row(s, 0), row(s, 0), 2 * count, 2 * count) = v.block(row(s, 0), row(s, 0), 2 * count, 2 * count);
    return apart;
  }
};

/// What the answer says after its rounds: the first by the noise of the readings alone, or by the prior's α, the others
/// with the setting of the weights by the α of the round before.
struct DenseAnswer {
  VectorXd found;
  MatrixXd estimator, v;

  explicit DenseAnswer(const Dense& dense) : found(VectorXd::Zero(dense.x.cols())) {
    if (dense.options.prior)
      for (Index s = 0; s < sensors; ++s)
        found.segment<4>(dense.each * s + 2) = dense.options.prior->mean.segment<4>(4 * s);
    v = dense.covariance(found);
    for (int round = 0; round < 4; ++round) {
      estimator = dense.estimator(dense.fitted_together(v));
      found = estimator * dense.z;
      v = dense.covariance(found);
    }
  }
};

CoefficientPrior prior_near(const std::vector<Phasor>& alpha) {
  CoefficientPrior prior;
  prior.mean.resize(2 * sensors * planes);
  for (Index i = 0; i < sensors * planes; ++i)
    prior.mean.segment<2>(2 * i) = parts(alpha[static_cast<std::size_t>(i)] * Phasor(1.02, 0.01));
  MatrixXd root = MatrixXd::Identity(prior.mean.size(), prior.mean.size());
  root += 0.2 * MatrixXd::Ones(root.rows(), root.cols());
  prior.covariance = 100.0 * root * root.transpose();
  return prior;
}

/// Spins that contradict one another widen every uncertainty.
double widening_of(const InfluenceSummary& answer) {
  for (const Warning& warning : answer.warnings)
    if (warning.code == WarningCode::spins_disagree || warning.code == WarningCode::out_of_band)
      return std::max(1.0, answer.chi_squared_per_dof);
  return 1.0;
}

void check_coefficients(const Shop& shop, const InfluenceOptions& options, bool turned) {
  const InfluenceSummary answer = solve_influence(shop.spins, names, names, options);
  REQUIRE(answer.usable());
  const Dense dense(shop.spins, options, turned);
  const DenseAnswer expected(dense);
  const MatrixXd covariance = expected.estimator * expected.v * expected.estimator.transpose();
  const std::vector<Phasor> alpha = dense.coefficients(expected.found);
  const VectorXd misfit = dense.z - dense.x * expected.found;
  const double chi_squared = misfit.dot(dense.fitted_together(expected.v).inverse() * misfit);
  const double widened = widening_of(answer);
  CHECK(answer.chi_squared_per_dof * static_cast<double>(dense.x.rows() - dense.x.cols()) ==
        Approx(chi_squared).epsilon(1e-7));
  for (Index i = 0; i < sensors * planes; ++i) {
    const CoefficientEstimate& found = answer.coefficients[static_cast<std::size_t>(i)];
    const Index at = dense.each * (i / planes) + 2 + 2 * (i % planes);
    const MatrixXd stated = widened * covariance.block<2, 2>(at, at);
    CHECK(std::abs(found.value - alpha[static_cast<std::size_t>(i)]) < rounding * std::abs(found.value));
    CHECK((found.covariance - stated).norm() < 1e-7 * stated.norm());
  }
}

}  // namespace

TEST_CASE("coefficients are those of generalised least squares with all readings' covariance as one matrix") {
  for (unsigned seed = 1; seed <= 20; ++seed) check_coefficients(Shop(seed), {}, false);
}

TEST_CASE("so are they with what earlier shafts say") {
  for (unsigned seed = 21; seed <= 40; ++seed) {
    const Shop shop(seed);
    InfluenceOptions options;
    options.prior = prior_near(shop.alpha);
    check_coefficients(shop, options, false);
  }
}

TEST_CASE("so are they of a shaft that is turned against its adapters") {
  for (unsigned seed = 41; seed <= 60; ++seed) {
    InfluenceOptions options;
    options.setting.turned_rad = 0.01;
    check_coefficients(Shop(seed, true), options, true);
  }
}

// δX = α⁻¹(δz − δα X) with δα = H δz of all readings (GUM, JCGM 100:2008, 5.1.2 and 5.2.2 for what is common to them).
TEST_CASE("the residual's uncertainty is that of all readings and pieces carried through one matrix") {
  for (unsigned seed = 61; seed <= 80; ++seed) {
    const Shop shop(seed);
    const InfluenceOptions options;
    const InfluenceSummary answer = solve_influence(shop.spins, names, names, options);
    REQUIRE(answer.usable());
    const Dense dense(shop.spins, options);
    const DenseAnswer expected(dense);
    const std::vector<Phasor> alpha = dense.coefficients(expected.found);
    Eigen::Matrix2cd matrix;
    matrix << alpha[0], alpha[1], alpha[2], alpha[3];
    const auto& last = shop.spins.back().vectors;
    const Eigen::Matrix2cd inverse = matrix.inverse();
    const Eigen::Vector2cd residual = inverse * Eigen::Vector2cd(last[0], last[1]);
    MatrixXd by_reading = MatrixXd::Zero(4, dense.z.size());
    MatrixXd by_unknown = MatrixXd::Zero(4, dense.x.cols());
    for (Index s = 0; s < sensors; ++s) {
      for (Index p = 0; p < planes; ++p) {
        by_reading.block<2, 2>(2 * p, dense.row(s, dense.count - 1)) = acting(inverse(p, s));
        for (Index q = 0; q < planes; ++q)
          by_unknown.block<2, 2>(2 * p, dense.each * s + 2 + 2 * q) = -acting(inverse(p, s) * residual(q));
      }
    }
    const MatrixXd through_fit = by_unknown * expected.estimator;
    const MatrixXd through_all = through_fit + by_reading;
    MatrixXd covariance = through_all * dense.noise * through_all.transpose();
    for (const MatrixXd& error : dense.errors_of_pieces(alpha))
      covariance += through_fit * error * error.transpose() * through_fit.transpose();
    const double widened = widening_of(answer);
    for (Index p = 0; p < planes; ++p)
      CHECK(std::abs(answer.planes[static_cast<std::size_t>(p)].residual_kg_m - residual(p)) <
            rounding * residual.norm());
    CHECK((answer.residual_covariance - widened * covariance).norm() < 1e-7 * covariance.norm() * widened);
  }
}

TEST_CASE("what is expected of a spin is Q⁻¹ of all readings' covariance as one matrix") {
  for (unsigned seed = 81; seed <= 100; ++seed) {
    const Shop shop(seed);
    InfluenceOptions options;
    if (seed % 2 == 0) options.prior = prior_near(shop.alpha);
    const Agreement agreement = agreement_of(shop.spins, planes, shop.alpha, options);
    const Dense dense(shop.spins, options);
    MatrixXd v = dense.noise;
    for (const MatrixXd& error : dense.errors_of_pieces(shop.alpha)) v += error * error.transpose();
    const MatrixXd inverse = v.inverse();
    const MatrixXd q = inverse - inverse * dense.x * dense.estimator(v);
    const VectorXd pulled = q * dense.z;
    CHECK(agreement.chi_squared == Approx(dense.z.dot(pulled)).epsilon(1e-6));
    CHECK(agreement.degrees_of_freedom == dense.x.rows() - dense.x.cols());
    for (Index k = 0; k < dense.count; ++k) {
      std::vector<Index> at;
      for (Index s = 0; s < sensors; ++s)
        for (Index part = 0; part < 2; ++part) at.push_back(dense.row(s, k) + part);
      const auto& expected = agreement.expected[static_cast<std::size_t>(k)];
      if (!expected[0]) continue;
      const MatrixXd covariance = q(at, at).inverse();
      const VectorXd off = covariance * pulled(at);
      CHECK(agreement.without[static_cast<std::size_t>(k)] ==
            Approx(agreement.chi_squared - off.dot(pulled(at))).margin(1e-5 * agreement.chi_squared));
      for (Index s = 0; s < sensors; ++s) {
        const Phasor read = shop.spins[static_cast<std::size_t>(k)].vectors[static_cast<std::size_t>(s)];
        const Phasor value = read - Phasor(off(2 * s), off(2 * s + 1));
        const ExpectedReading& found = *expected[static_cast<std::size_t>(s)];
        CHECK(std::abs(found.value - value) < 1e-6 * std::abs(read));
        CHECK((found.covariance - covariance.block<2, 2>(2 * s, 2 * s)).norm() < 1e-5 * covariance.norm());
      }
    }
  }
}
