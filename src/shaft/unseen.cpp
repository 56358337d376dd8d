#include <Eigen/QR>
#include <algorithm>
#include <cmath>

#include "counterspot/shaft/modal.hpp"
#include "shaft/mode_shape.hpp"

namespace counterspot {

namespace {

using Eigen::Index;
using Eigen::MatrixXcd;
using Eigen::VectorXcd;

constexpr double usual_damping = 0.02;     // of a mode, fraction of critical (common practice, no source)
constexpr double of_four_numbers = 1.388;  // Student's t, 97.5 %, four degrees of freedom: 2.776, over 2

/// A mode with what it takes to move it, and what its movement makes at each support.
struct MovingMode {
  const BeamMode* mode = nullptr;
  double mass_kg = 0.0;
  std::vector<double> at_support_kg;  ///< r_n
};

/// ∫ over the shaft of μ·f·g and Σ m·f·g, f and g straight between the nodes.
template <typename F, typename G>
double weighed(const Beam& beam, const std::vector<double>& nodes_m, F f, G g) {
  double sum = 0.0;
  std::size_t section = 0;
  for (std::size_t i = 1; i < nodes_m.size(); ++i) {
    const double from = nodes_m[i - 1];
    const double to = nodes_m[i];
    while (section + 1 < beam.sections.size() && 0.5 * (from + to) > beam.sections[section].end_m) ++section;
    sum += beam.sections[section].mass_per_length_kg_m() * (to - from) / 6.0 *
           (2.0 * f(from) * g(from) + f(from) * g(to) + f(to) * g(from) + 2.0 * f(to) * g(to));
  }
  for (const BeamMass& mass : beam.masses) sum += mass.mass_kg * f(mass.position_m) * g(mass.position_m);
  return sum;
}

class Reach {
 public:
  Reach(const Shaft& shaft, const BeamSummary& summary)
      : shaft_(shaft), summary_(summary), supports_(supports_of(*shaft.supports)) {
    const Beam beam = beam_of(shaft);
    for (const BeamMode& mode : summary.modes) {
      if (!(mode.speed_rad_s > 0.0)) continue;
      auto shape = [&](double z) { return shape_at(summary, mode, z); };
      MovingMode moving{&mode, weighed(beam, summary.nodes_m, shape, shape), {}};
      for (const Support support : supports_) {
        moving.at_support_kg.push_back(
            weighed(beam, summary.nodes_m, shape, [&](double z) { return lever_of(support, z); }));
      }
      modes_.push_back(std::move(moving));
    }
  }

  double lever_of(Support support, double z) const { return lever_to_support(*shaft_.supports, support, z); }
  const std::vector<Support>& supports() const { return supports_; }

  /// What of a unit at z reaches the supports at a speed, and after those the first modes, `count` numbers in all.
  VectorXcd at(double z, double speed_rad_s, Index count) const {
    VectorXcd reach = VectorXcd::Zero(count);
    const auto supports = std::min(count, static_cast<Index>(supports_.size()));
    for (Index b = 0; b < supports; ++b) reach(b) = to_support(static_cast<std::size_t>(b), z, speed_rad_s);
    for (Index k = supports; k < count && k - supports < static_cast<Index>(modes_.size()); ++k)
      reach(k) = shape_at(summary_, *modes_[static_cast<std::size_t>(k - supports)].mode, z);
    return reach;
  }

 private:
  Phasor to_support(std::size_t support, double z, double speed_rad_s) const {
    Phasor sum = lever_of(supports_[support], z);
    for (const MovingMode& each : modes_) {
      const double rate = each.mode->speed_rad_s;
      const Phasor dynamic(rate * rate - speed_rad_s * speed_rad_s, -2.0 * usual_damping * rate * speed_rad_s);
      sum += each.at_support_kg[support] * shape_at(summary_, *each.mode, z) * speed_rad_s * speed_rad_s /
             (each.mass_kg * dynamic);
    }
    return sum;
  }

  const Shaft& shaft_;
  const BeamSummary& summary_;
  std::vector<Support> supports_;
  std::vector<MovingMode> modes_;
};

/// α(z) of all readings, drawn between the planes' coefficients.
class DrawnCoefficients {
 public:
  DrawnCoefficients(const Shaft& shaft, const Reach& reach, const InfluenceSummary& influence)
      : reach_(reach), influence_(influence), planes_(static_cast<Index>(shaft.planes.size())) {
    for (const SpeedShare& speed : influence.speeds) {
      MatrixXcd at_planes(planes_, planes_);
      for (Index p = 0; p < planes_; ++p) {
        at_planes.row(p) =
            reach.at(shaft.planes[static_cast<std::size_t>(p)].position_m, speed_of(speed), planes_).transpose();
      }
      const Eigen::CompleteOrthogonalDecomposition<MatrixXcd> fit(at_planes);
      const auto sensors = static_cast<Index>(speed.coefficients.size()) / planes_;
      MatrixXcd parts(sensors, planes_);
      for (Index s = 0; s < sensors; ++s) {
        VectorXcd alpha(planes_);
        for (Index p = 0; p < planes_; ++p)
          alpha(p) = speed.coefficients[static_cast<std::size_t>(s * planes_ + p)].value;
        parts.row(s) = fit.solve(alpha).transpose();
      }
      parts_.push_back(std::move(parts));
    }
  }

  /// w(z): how the planes answer to a unit at z.
  VectorXcd answer(double z) const {
    VectorXcd readings(influence_.inverse.cols());
    Index row = 0;
    for (std::size_t g = 0; g < parts_.size(); ++g) {
      readings.segment(row, parts_[g].rows()) = parts_[g] * reach_.at(z, speed_of(influence_.speeds[g]), planes_);
      row += parts_[g].rows();
    }
    return influence_.inverse * readings;
  }

 private:
  static double speed_of(const SpeedShare& speed) { return speed.speed_rad_s.value_or(0.0); }

  const Reach& reach_;
  const InfluenceSummary& influence_;
  Index planes_;
  std::vector<MatrixXcd> parts_;
};

/// q of the unbalance along the shaft.
double density(const Shaft& shaft, const BeamSummary& beam, const Reach& reach, const UnseenBasis& basis) {
  double shown = 0.0;
  double levers = 0.0;
  for (const Support support : reach.supports()) {
    Phasor carried;
    for (std::size_t p = 0; p < shaft.planes.size(); ++p)
      carried += reach.lever_of(support, shaft.planes[p].position_m) * basis.influence.planes[p].as_found_kg_m;
    shown += std::norm(carried);
    for (std::size_t i = 1; i < beam.nodes_m.size(); ++i) {
      const double lever = reach.lever_of(support, 0.5 * (beam.nodes_m[i - 1] + beam.nodes_m[i]));
      levers += lever * lever * (beam.nodes_m[i] - beam.nodes_m[i - 1]);
    }
  }
  const double length_m = beam.nodes_m.back() - beam.nodes_m.front();
  return std::max(of_four_numbers * of_four_numbers * shown / levers, basis.least_kg_m * basis.least_kg_m / length_m);
}

/// e_n(z).
Phasor missed(const BeamSummary& beam, const ModalPart& part, const BeamMode& mode, const VectorXcd& answer, double z) {
  Phasor missed = shape_at(beam, mode, z);
  for (Index p = 0; p < answer.size(); ++p) missed -= part.shape[static_cast<std::size_t>(p)] * answer(p);
  return missed;
}

}  // namespace

void add_unseen(const Shaft& shaft, const BeamSummary& beam, const UnseenBasis& basis, std::vector<ModalPart>& modes) {
  if (!shaft.supports || modes.empty() || basis.influence.speeds.empty()) return;
  const Reach reach(shaft, beam);
  const DrawnCoefficients drawn(shaft, reach, basis.influence);
  const double density_kg2_m = density(shaft, beam, reach, basis);
  for (ModalPart& part : modes) {
    const auto mode = std::find_if(beam.modes.begin(), beam.modes.end(),
                                   [&](const BeamMode& each) { return each.speed_rad_s == part.critical_rad_s; });
    double squared = 0.0;
    for (std::size_t i = 1; i < beam.nodes_m.size(); ++i) {
      const double z = 0.5 * (beam.nodes_m[i - 1] + beam.nodes_m[i]);
      squared += density_kg2_m * (beam.nodes_m[i] - beam.nodes_m[i - 1]) *
                 std::norm(missed(beam, part, *mode, drawn.answer(z), z));
    }
    Phasor of_fitted;
    for (const FittedWeight& weight : basis.fitted) {
      const double z = shaft.planes[static_cast<std::size_t>(weight.plane)].position_m;
      of_fitted += weight.unbalance_kg_m() * missed(beam, part, *mode, drawn.answer(z), z);
    }
    squared += std::norm(of_fitted);
    part.u_unseen_kg_m = std::sqrt(0.5 * squared);
    part.covariance += 0.5 * squared * Eigen::Matrix2d::Identity();
  }
}

}  // namespace counterspot
