#include "rig_model/response.hpp"

#include <Eigen/LU>
#include <cmath>
#include <optional>

namespace counterspot {

namespace {

using Eigen::Index;
using Eigen::Matrix2cd;
using Eigen::Matrix4cd;
using Eigen::MatrixXcd;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr std::complex<double> j(0.0, 1.0);
constexpr double usual_rad_s = 160.0;  // at which γ is counted

/// One differentiation with respect to time is −jΩ in lag phasors.
std::complex<double> differentiated(Motion motion, double speed_rad_s) {
  switch (motion) {
    case Motion::displacement: return 1.0;
    case Motion::velocity: return -j * speed_rad_s;
    case Motion::unscaled:  // never asked for: without a scale no mass is learned
    case Motion::acceleration: return -speed_rad_s * speed_rad_s;
  }
  return 0.0;
}

Matrix2cd off_diagonal(const std::complex<double>& value) {
  Matrix2cd matrix = Matrix2cd::Zero();
  matrix(0, 1) = value;
  matrix(1, 0) = value;
  return matrix;
}

}  // namespace

std::optional<RigBodies> RigBodies::of(Index parameters) {
  for (const bool bed : {false, true}) {
    for (int attached = 0; attached <= attached_at_most; ++attached)
      if (const RigBodies bodies{bed, attached}; bodies.parameters() == parameters) return bodies;
  }
  return std::nullopt;
}

RigResponse::RigResponse(const VectorXd& theta, const ShaftDynamics& shaft, double speed_rad_s,
                         const std::array<Motion, 2>& motions)
    : speed_rad_s_(speed_rad_s), bodies_(*RigBodies::of(theta.size())) {
  for (std::size_t i = 0; i < 2; ++i) {
    const auto pedestal = static_cast<Index>(i);
    mass_kg_[i] = std::exp(theta(RigParameters::ln_mass(pedestal)));
    stiffness_N_m_[i] = std::exp(theta(RigParameters::ln_stiffness(pedestal)));
    damping_N_s_m_[i] = std::exp(theta(RigParameters::ln_damping(pedestal)));
    corner_rad_s_[i] = turn_rad * std::exp(theta(RigParameters::ln_corner(pedestal)));
    factor_[i] =
        std::polar(std::exp(theta(RigParameters::ln_gain(pedestal))), theta(RigParameters::gain_rad(pedestal))) *
        std::conj(j * speed_rad_s / (corner_rad_s_[i] + j * speed_rad_s)) * differentiated(motions[i], speed_rad_s);
  }
  coupling_ = {theta(RigParameters::coupling_stiffness), theta(RigParameters::coupling_mass),
               theta(RigParameters::coupling_damping)};
  const double squared = speed_rad_s * speed_rad_s;
  const Complex between = coupling_[0] + j * speed_rad_s / usual_rad_s * coupling_[2];
  spring_ = off_diagonal(std::sqrt(stiffness_N_m_[0] * stiffness_N_m_[1]) * between);
  for (Index i = 0; i < 2; ++i) {
    const auto at = static_cast<std::size_t>(i);
    spring_(i, i) = stiffness_N_m_[at] + j * speed_rad_s * damping_N_s_m_[at];
  }
  supported_ = spring_;
  if (bodies_.bed) {
    bed_ = bed_of(theta, shaft.span_m, speed_rad_s);
    supported_ = (spring_.inverse() + bed_->by_move() + bed_->by_tilt()).inverse();
  }
  Matrix4cd dynamic = -squared * shaft.mass_kg.cast<Complex>();
  dynamic.diagonal() += shaft.stiffness_N_m.cast<Complex>();
  dynamic.topLeftCorner<2, 2>() += supported_ -
                                   squared * Eigen::Vector2cd(mass_kg_[0], mass_kg_[1]).asDiagonal().toDenseMatrix() +
                                   off_diagonal(-squared * std::sqrt(mass_kg_[0] * mass_kg_[1]) * coupling_[1]);
  for (int body = 0; body < bodies_.attached; ++body) {
    attached_.push_back(
        attached_of(theta.segment<RigParameters::of_attached>(bodies_.attached_first(body)), speed_rad_s));
    dynamic.topLeftCorner<2, 2>() += attached_.back().dynamic();
  }
  receptance_ = dynamic.inverse();
  moved_ = squared * receptance_ * shaft.plane_shapes.cast<Complex>();
}

VectorXd RigResponse::stacked(const MatrixXcd& read) const {
  const Index planes = read.cols();
  VectorXd alpha(4 * planes);
  for (Index s = 0; s < 2; ++s)
    for (Index p = 0; p < planes; ++p) alpha.segment<2>(2 * (s * planes + p)) << read(s, p).real(), read(s, p).imag();
  return alpha;
}

VectorXd RigResponse::coefficients() const {
  return stacked(Eigen::Vector2cd(factor_[0], factor_[1]).asDiagonal() * moved_.topRows<2>().conjugate());
}

VectorXd RigResponse::moved_by(const Matrix4cd& change_of_dynamic) const {
  const MatrixXcd change = -receptance_.topRows<2>() * change_of_dynamic * moved_;
  return stacked(Eigen::Vector2cd(factor_[0], factor_[1]).asDiagonal() * change.conjugate());
}

VectorXd RigResponse::by_mass(const Eigen::Matrix4d& change_kg) const {
  return moved_by(-speed_rad_s_ * speed_rad_s_ * change_kg.cast<Complex>());
}

VectorXd RigResponse::by_stiffness(const Eigen::Vector4d& change_N_m) const {
  return moved_by(change_N_m.cast<Complex>().asDiagonal());
}

RigResponse::Bed RigResponse::bed_of(const VectorXd& theta, double span_m, double speed_rad_s) {
  const double mass_kg = std::exp(theta(RigParameters::bed_ln_mass));
  const double inertia_kg_m2 = mass_kg * std::exp(2.0 * theta(RigParameters::bed_ln_radius));
  const double loss = std::exp(theta(RigParameters::bed_ln_loss));
  auto stiffness = [&](Index at) { return std::pow(turn_rad * std::exp(theta(at)), 2) * (1.0 + j * loss); };
  const double off = theta(RigParameters::bed_off_center);
  Bed bed{{off - 0.5 * span_m, off + 0.5 * span_m}, {}, {}, {}, {}, loss};
  bed.move_spring_N_m = mass_kg * stiffness(RigParameters::bed_ln_move);
  bed.tilt_spring_N_m_rad = inertia_kg_m2 * stiffness(RigParameters::bed_ln_tilt);
  bed.move_N_m = bed.move_spring_N_m - speed_rad_s * speed_rad_s * mass_kg;
  bed.tilt_N_m_rad = bed.tilt_spring_N_m_rad - speed_rad_s * speed_rad_s * inertia_kg_m2;
  return bed;
}

RigResponse::Attached RigResponse::attached_of(const VectorXd& own, double speed_rad_s) {
  const double loss = std::exp(own(RigParameters::attached_ln_loss));
  const double rate_rad_s = turn_rad * std::exp(own(RigParameters::attached_ln_rate));
  const Complex spring = rate_rad_s * rate_rad_s * (1.0 + j * loss);
  const double squared = speed_rad_s * speed_rad_s;
  return {own.head<2>().cast<Complex>(), spring, -squared * spring / (spring - squared), loss};
}

/// Of F.
Matrix2cd RigResponse::spring_change(Index parameter) const {
  const double root_stiffness = std::sqrt(stiffness_N_m_[0] * stiffness_N_m_[1]);
  const Complex turned = j * speed_rad_s_ / usual_rad_s;
  if (parameter == RigParameters::coupling_stiffness) return off_diagonal(root_stiffness);
  if (parameter == RigParameters::coupling_damping) return off_diagonal(root_stiffness * turned);
  Matrix2cd change = Matrix2cd::Zero();
  if (parameter >= RigParameters::coupling_stiffness) return change;
  const Index pedestal = parameter / RigParameters::of_pedestal;
  const auto at = static_cast<std::size_t>(pedestal);
  if (parameter == RigParameters::ln_stiffness(pedestal)) {
    change = off_diagonal(0.5 * root_stiffness * (coupling_[0] + turned * coupling_[2]));
    change(pedestal, pedestal) = stiffness_N_m_[at];
  } else if (parameter == RigParameters::ln_damping(pedestal)) {
    change(pedestal, pedestal) = j * speed_rad_s_ * damping_N_s_m_[at];
  }
  return change;
}

/// Of what the pedestals' masses add.
Matrix2cd RigResponse::mass_change(Index parameter) const {
  const double squared = speed_rad_s_ * speed_rad_s_;
  const double root_mass = std::sqrt(mass_kg_[0] * mass_kg_[1]);
  if (parameter == RigParameters::coupling_mass) return off_diagonal(-squared * root_mass);
  Matrix2cd change = Matrix2cd::Zero();
  if (parameter >= RigParameters::coupling_stiffness) return change;
  const Index pedestal = parameter / RigParameters::of_pedestal;
  if (parameter == RigParameters::ln_mass(pedestal)) {
    change = off_diagonal(-0.5 * squared * root_mass * coupling_[1]);
    change(pedestal, pedestal) = -squared * mass_kg_[static_cast<std::size_t>(pedestal)];
  }
  return change;
}

/// Of B.
Matrix2cd RigResponse::bed_change(Index parameter) const {
  const Matrix2cd move = bed_->by_move();
  const Matrix2cd tilt = bed_->by_tilt();
  const Complex lossy = j * bed_->loss / (1.0 + j * bed_->loss);
  const Complex of_move = bed_->move_spring_N_m / bed_->move_N_m;
  const Complex of_tilt = bed_->tilt_spring_N_m_rad / bed_->tilt_N_m_rad;
  switch (parameter) {
    case RigParameters::bed_ln_mass: return -move - tilt;
    case RigParameters::bed_ln_move: return -2.0 * of_move * move;
    case RigParameters::bed_ln_tilt: return -2.0 * of_tilt * tilt;
    case RigParameters::bed_ln_loss: return -lossy * (of_move * move + of_tilt * tilt);
    case RigParameters::bed_ln_radius: return -2.0 * tilt;
    default: break;
  }
  const Eigen::Vector2cd both = Eigen::Vector2cd::Ones();
  return (both * bed_->places_m.transpose() + bed_->places_m * both.transpose()) / bed_->tilt_N_m_rad;
}

/// Of w c cᵀ: dw/dz = (w/z)².
Matrix2cd RigResponse::attached_change(const Attached& body, Index parameter) {
  const Eigen::Vector2cd& c = body.to_root_kg;
  const Complex by_spring = std::pow(body.added / body.spring, 2);
  const Complex lossy = j * body.loss / (1.0 + j * body.loss);
  switch (parameter) {
    case RigParameters::attached_ln_rate: return 2.0 * body.spring * by_spring * c * c.transpose();
    case RigParameters::attached_ln_loss: return lossy * body.spring * by_spring * c * c.transpose();
    default: break;
  }
  Matrix2cd change = Matrix2cd::Zero();
  change.row(parameter) += body.added * c.transpose();
  change.col(parameter) += body.added * c;
  return change;
}

/// d(F⁻¹ + B)⁻¹ = P F⁻¹ dF F⁻¹ P − P dB P, P = (F⁻¹ + B)⁻¹.
Matrix2cd RigResponse::pedestal_change(Index parameter) const {
  if (const Index beyond = parameter - bodies_.attached_first(0); beyond >= 0) {
    const auto body = static_cast<std::size_t>(beyond / RigParameters::of_attached);
    return attached_change(attached_[body], beyond % RigParameters::of_attached);
  }
  if (parameter >= RigParameters::count) return -supported_ * bed_change(parameter) * supported_;
  if (!bed_) return spring_change(parameter) + mass_change(parameter);
  const Matrix2cd carried = supported_ * spring_.inverse();
  return carried * spring_change(parameter) * carried.transpose() + mass_change(parameter);
}

MatrixXd RigResponse::by_theta() const {
  const MatrixXcd read = Eigen::Vector2cd(factor_[0], factor_[1]).asDiagonal() * moved_.topRows<2>().conjugate();
  MatrixXd slopes(2 * read.size(), bodies_.parameters());
  for (Index i = 0; i < slopes.cols(); ++i) {
    const Index pedestal = std::min<Index>(i / RigParameters::of_pedestal, 1);
    MatrixXcd change = MatrixXcd::Zero(2, read.cols());
    if (i == RigParameters::ln_gain(pedestal)) {
      change.row(pedestal) = read.row(pedestal);
    } else if (i == RigParameters::gain_rad(pedestal)) {
      change.row(pedestal) = j * read.row(pedestal);
    } else if (i == RigParameters::ln_corner(pedestal)) {
      const double corner = corner_rad_s_[static_cast<std::size_t>(pedestal)];
      change.row(pedestal) = -corner / (corner - j * speed_rad_s_) * read.row(pedestal);
    } else {
      const MatrixXcd moved = -receptance_.topLeftCorner<2, 2>() * pedestal_change(i) * moved_.topRows<2>();
      change = Eigen::Vector2cd(factor_[0], factor_[1]).asDiagonal() * moved.conjugate();
    }
    slopes.col(i) = stacked(change);
  }
  return slopes;
}

VectorXd rig_coefficients(const VectorXd& theta, const ShaftDynamics& shaft, double speed_rad_s,
                          const std::array<Motion, 2>& motions) {
  return RigResponse(theta, shaft, speed_rad_s, motions).coefficients();
}

}  // namespace counterspot
