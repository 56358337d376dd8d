#include "rig_model/rig_prior.hpp"

#include <cmath>

#include "counterspot/units/angle.hpp"

namespace counterspot {

namespace {

struct Usual {
  double mass_kg;
  double resonance_Hz;  ///< with 8 kg of shaft on the pedestal
};

// Common practice, no source. In simulated shops means wrong by 1.6, 1.4 and 2 times changed nothing.
constexpr Usual soft{4.5, 9.0};
constexpr Usual hard{12.0, 75.0};
constexpr double carried_kg = 8.0;
constexpr double damping_ratio = 0.05;
constexpr double u_ln_mass = 0.5;
constexpr double u_ln_stiffness = 0.7;
constexpr double u_ln_damping = 0.7;
constexpr double u_ln_gain = 0.08;
constexpr double u_gain_rad = 3.0;  // where a sensor looks is anyone's guess
constexpr double usual_corner_Hz = 1.0;
constexpr double u_ln_corner = 1.0;  // a sound card's is at 5 to 20 Hz
constexpr double u_coupling = 0.1;
// A bed plate on its feet, without pedestals (common practice, no source).
constexpr double usual_bed_kg = 800.0;
constexpr double usual_bed_Hz = 35.0;
constexpr double u_ln_bed_mass = 0.7;
constexpr double u_ln_bed_resonance = 0.6;
constexpr double usual_bed_loss = 0.06;
constexpr double usual_bed_radius_m = 0.5;
constexpr double u_ln_bed_radius = 0.3;
constexpr double u_bed_off_center_m = 0.1;
// What swings on a pedestal: half a kilogram, near the speeds that such rigs balance at (common practice, no source).
constexpr double u_attached_root_kg = 0.7;
constexpr double usual_attached_Hz = 28.0;
constexpr double u_ln_attached_rate = 0.45;
constexpr double usual_attached_loss = 0.06;

/// What the owner typed, instead: ln m, and ln k = ln m + 2 ln(2π f), which hangs on the mass.
void set_known(const KnownPedestal& known, Eigen::Index pedestal, RigPrior& prior) {
  const Eigen::Index mass = RigParameters::ln_mass(pedestal);
  const Eigen::Index stiffness = RigParameters::ln_stiffness(pedestal);
  if (known.moving_mass_kg) {
    const double part = known.moving_mass_kg->u / known.moving_mass_kg->value;
    prior.mean(mass) = std::log(known.moving_mass_kg->value);
    prior.covariance(mass, mass) = part * part;
  }
  if (known.natural_frequency_Hz) {
    const double part = known.natural_frequency_Hz->u / known.natural_frequency_Hz->value;
    const double of_mass = prior.covariance(mass, mass);
    prior.mean(stiffness) = prior.mean(mass) + 2.0 * std::log(turn_rad * known.natural_frequency_Hz->value);
    prior.covariance(stiffness, stiffness) = of_mass + 4.0 * part * part;
    prior.covariance(mass, stiffness) = prior.covariance(stiffness, mass) = of_mass;
  }
}

}  // namespace

RigPrior rig_prior(const RigForm& form, const std::array<KnownPedestal, 2>& known, std::size_t steps) {
  const Usual& usual = form.kind == RigKind::soft ? soft : hard;
  const double moving_kg = usual.mass_kg + carried_kg;
  const double rate_rad_s = turn_rad * usual.resonance_Hz;
  const Eigen::Index size = form.bodies.parameters() + 2 * static_cast<Eigen::Index>(steps);
  RigPrior prior{Eigen::VectorXd::Zero(size), sensor_step_sd * sensor_step_sd * Eigen::MatrixXd::Identity(size, size)};
  auto set = [&](Eigen::Index at, double mean, double sd) {
    prior.mean(at) = mean;
    prior.covariance(at, at) = sd * sd;
  };
  for (Eigen::Index i = 0; i < 2; ++i) {
    set(RigParameters::ln_mass(i), std::log(usual.mass_kg), u_ln_mass);
    set(RigParameters::ln_stiffness(i), std::log(moving_kg * rate_rad_s * rate_rad_s), u_ln_stiffness);
    set(RigParameters::ln_damping(i), std::log(2.0 * damping_ratio * moving_kg * rate_rad_s), u_ln_damping);
    set(RigParameters::ln_gain(i), 0.0, u_ln_gain);
    set(RigParameters::gain_rad(i), 0.0, u_gain_rad);
    set(RigParameters::ln_corner(i), std::log(usual_corner_Hz), u_ln_corner);
    set_known(known[static_cast<std::size_t>(i)], i, prior);
  }
  set(RigParameters::coupling_stiffness, 0.0, u_coupling);
  set(RigParameters::coupling_mass, 0.0, u_coupling);
  set(RigParameters::coupling_damping, 0.0, u_coupling);
  if (form.bodies.bed) {
    set(RigParameters::bed_ln_mass, std::log(usual_bed_kg), u_ln_bed_mass);
    set(RigParameters::bed_ln_move, std::log(usual_bed_Hz), u_ln_bed_resonance);
    set(RigParameters::bed_ln_tilt, std::log(usual_bed_Hz), u_ln_bed_resonance);
    set(RigParameters::bed_ln_loss, std::log(usual_bed_loss), u_ln_damping);
    set(RigParameters::bed_ln_radius, std::log(usual_bed_radius_m), u_ln_bed_radius);
    set(RigParameters::bed_off_center, 0.0, u_bed_off_center_m);
  }
  for (int body = 0; body < form.bodies.attached; ++body) {
    const Eigen::Index first = form.bodies.attached_first(body);
    for (Eigen::Index i = 0; i < 2; ++i) set(first + RigParameters::attached_to(i), 0.0, u_attached_root_kg);
    set(first + RigParameters::attached_ln_rate, std::log(usual_attached_Hz), u_ln_attached_rate);
    set(first + RigParameters::attached_ln_loss, std::log(usual_attached_loss), u_ln_damping);
  }
  return prior;
}

RigPrior rig_prior(const RigModel& model) {
  return rig_prior(model.form(), model.pedestals, model.steps.size());
}

ScatterPrior scatter_prior() {
  return {parts_of(RigScatter{}).array().log().matrix(), ScatterParts{0.6, 0.8, 0.8, 1.0, 1.0}};
}

}  // namespace counterspot
