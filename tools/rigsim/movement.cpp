#include "rigsim/movement.hpp"

#include <Eigen/LU>
#include <cmath>
#include <unsupported/Eigen/MatrixFunctions>

#include "rigsim/dynamics.hpp"

namespace rigsim {

namespace {

using Complex = std::complex<double>;
constexpr Complex j(0.0, 1.0);

/// Everything that pushes, as generalised forces.
class Forces {
 public:
  Forces(const RigTruth& rig, const ShaftTruth& shaft, const SpinTruth& spin, const SpeedCurve& curve)
      : rig_(rig), spin_(spin), curve_(curve), once_(generalised_unbalance(rig, shaft, spin.fitted).conjugate()) {
    twice_ << std::conj(shaft.joints[0]), std::conj(shaft.joints[1]), 0.0;
  }

  Eigen::Vector3d at(double time_s) const {
    Turning turning = curve_.at(time_s);
    Complex turned = std::polar(1.0, turning.angle_rad);
    double squared = turning.speed_rad_s * turning.speed_rad_s;
    // −d²/dt² of cos(θ − β): the pull outwards, and what speeding up adds to it.
    Complex pull = turned * Complex(squared, -turning.acceleration_rad_s2);
    Eigen::Vector3d force = (once_ * pull + twice_ * (squared * turned * turned)).real();
    for (const Neighbour& neighbour : rig_.neighbours) {
      double wave = std::cos(counterspot::turn_rad * neighbour.frequency_Hz * time_s + neighbour.phase_rad);
      force(0) += neighbour.force_N[0] * wave;
      force(1) += neighbour.force_N[1] * wave;
    }
    for (const Knock& knock : spin_.knocks) {
      double part = (time_s - knock.at_s) / knock.duration_s;
      if (part > 0.0 && part < 1.0) force(knock.pedestal) += knock.peak_N * std::sin(counterspot::pi * part);
    }
    return force;
  }

  /// One steady line Q(t) = Re(f e^{jωt}) of those that there are at the start.
  struct Line {
    Eigen::Vector3cd force;
    double rate_rad_s;
  };
  std::vector<Line> lines_at_start() const {
    Turning start = curve_.at(0.0);
    double squared = start.speed_rad_s * start.speed_rad_s;
    std::vector<Line> lines;
    lines.push_back({once_ * squared * std::polar(1.0, start.angle_rad), start.speed_rad_s});
    lines.push_back({twice_ * squared * std::polar(1.0, 2.0 * start.angle_rad), 2.0 * start.speed_rad_s});
    for (const Neighbour& neighbour : rig_.neighbours) {
      Eigen::Vector3cd force(neighbour.force_N[0], neighbour.force_N[1], 0.0);
      lines.push_back({force * std::polar(1.0, neighbour.phase_rad), counterspot::turn_rad * neighbour.frequency_Hz});
    }
    return lines;
  }

 private:
  const RigTruth& rig_;
  const SpinTruth& spin_;
  const SpeedCurve& curve_;
  Eigen::Vector3cd once_;
  Eigen::Vector3cd twice_;
};

/// ẏ = A y + B Q, sensors x = C y + D Q. The coupling state v follows the sensor: v̇ = ω_c (x − v); the output is x − v.
struct StateSpace {
  Eigen::MatrixXd A, B, C, D;
};

StateSpace state_space(const RigTruth& rig, const MovingParts& parts) {
  const Eigen::Index sensors = static_cast<Eigen::Index>(rig.sensors.size());
  const Eigen::Matrix3d inverse = parts.mass.inverse();
  StateSpace space{Eigen::MatrixXd::Zero(6 + sensors, 6 + sensors), Eigen::MatrixXd::Zero(6 + sensors, 3),
                   Eigen::MatrixXd::Zero(sensors, 6 + sensors), Eigen::MatrixXd::Zero(sensors, 3)};
  space.A.block<3, 3>(0, 3).setIdentity();
  space.A.block<3, 3>(3, 0) = -inverse * parts.stiffness;
  space.A.block<3, 3>(3, 3) = -inverse * parts.damping;
  space.B.block<3, 3>(3, 0) = inverse;
  for (Eigen::Index s = 0; s < sensors; ++s) {
    const SensorTruth& sensor = rig.sensors[static_cast<std::size_t>(s)];
    if (sensor.motion == counterspot::Motion::displacement) space.C(s, sensor.pedestal) = 1.0;
    if (sensor.motion == counterspot::Motion::velocity) space.C(s, 3 + sensor.pedestal) = 1.0;
    if (sensor.motion == counterspot::Motion::acceleration) {
      space.C.row(s) = space.A.row(3 + sensor.pedestal);
      space.D.row(s) = space.B.row(3 + sensor.pedestal);
    }
    double corner = counterspot::turn_rad * sensor.coupling_Hz;
    space.A.row(6 + s) = corner * space.C.row(s);
    space.B.row(6 + s) = corner * space.D.row(s);
    space.A(6 + s, 6 + s) -= corner;
    space.C(s, 6 + s) = -1.0;
  }
  return space;
}

Eigen::VectorXd steady_start(const StateSpace& space, const Forces& forces) {
  const Eigen::Index size = space.A.rows();
  Eigen::VectorXd state = Eigen::VectorXd::Zero(size);
  for (const Forces::Line& line : forces.lines_at_start()) {
    if (line.rate_rad_s == 0.0) continue;
    Eigen::MatrixXcd dynamic = j * line.rate_rad_s * Eigen::MatrixXcd::Identity(size, size) - space.A;
    Eigen::VectorXcd push = space.B.cast<Complex>() * line.force;
    state += Eigen::VectorXd(dynamic.partialPivLu().solve(push).real());
  }
  return state;
}

}  // namespace

std::vector<std::vector<double>> sensor_movements(const RigTruth& rig, const ShaftTruth& shaft, const SpinTruth& spin,
                                                  const SpeedCurve& curve, std::size_t samples) {
  const StateSpace space = state_space(rig, moving_parts(rig, shaft));
  const Forces forces(rig, shaft, spin, curve);
  const double step_s = 1.0 / rig.recorder.sample_rate_Hz;
  const Eigen::MatrixXd half = (space.A * (0.5 * step_s)).exp();
  const Eigen::MatrixXd whole = half * half;
  const Eigen::MatrixXd from_begin = step_s / 6.0 * whole * space.B;
  const Eigen::MatrixXd from_middle = step_s * 4.0 / 6.0 * half * space.B;
  const Eigen::MatrixXd from_end = step_s / 6.0 * space.B;

  std::vector<std::vector<double>> movements(rig.sensors.size(), std::vector<double>(samples));
  Eigen::VectorXd state = steady_start(space, forces);
  Eigen::VectorXd next(state.size());
  Eigen::Vector3d force = forces.at(0.0);
  for (std::size_t i = 0; i < samples; ++i) {
    for (std::size_t s = 0; s < movements.size(); ++s) {
      auto row = static_cast<Eigen::Index>(s);
      movements[s][i] = space.C.row(row).dot(state) + space.D.row(row).dot(force);
    }
    double time_s = static_cast<double>(i) * step_s;
    Eigen::Vector3d middle = forces.at(time_s + 0.5 * step_s);
    Eigen::Vector3d end = forces.at(time_s + step_s);
    next.noalias() = whole * state;
    next.noalias() += from_begin * force;
    next.noalias() += from_middle * middle;
    next.noalias() += from_end * end;
    state.swap(next);
    force = end;
  }
  return movements;
}

}  // namespace rigsim
