// Prints random shafts on random rigs with our influence coefficients, one JSON document a line, for rig_model.py.
#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <random>

#include "counterspot/rig_model/rig_model.hpp"
#include "counterspot/shaft/beam.hpp"

using namespace counterspot;
using Json = nlohmann::json;

namespace {

Shaft drawn_shaft(std::mt19937_64& random) {
  auto draw = [&](double least, double most) { return std::uniform_real_distribution<double>(least, most)(random); };
  Shaft shaft;
  shaft.id = "drawn";
  const double length_m = draw(0.6, 1.9);
  const double margin_m = draw(0.0, 0.06);
  shaft.tube = Tube{draw(0.06, 0.11), draw(0.0018, 0.003), length_m};
  shaft.supports = Supports{0.2, 0.2 + length_m + 2.0 * margin_m, {}};
  const Material steel = material_named("steel");
  const double bore = shaft.tube->outside_diameter_m - 2.0 * shaft.tube->wall_m;
  const BeamSection tube{0.0, length_m, shaft.tube->outside_diameter_m, bore, steel};
  const double tube_kg = tube.mass_per_length_kg_m() * length_m;
  shaft.mass_kg = tube_kg + draw(2.0, 8.0);
  const double span_m = length_m + 2.0 * margin_m;
  shaft.supports->center_of_mass_m =
      0.2 + span_m * (0.5 + draw(-0.1, 0.1) * (*shaft.mass_kg - tube_kg) / *shaft.mass_kg);
  shaft.planes = {{"A", 0.2 + margin_m + draw(0.0, 0.1), 0.04},
                  {"B", 0.2 + margin_m + length_m - draw(0.0, 0.1), 0.04},
                  {"C", 0.2 + margin_m + draw(0.3, 0.7) * length_m, 0.04}};
  return shaft;
}

Eigen::VectorXd drawn_rig(std::mt19937_64& random, bool hard, const RigBodies& bodies) {
  auto draw = [&](double least, double most) { return std::uniform_real_distribution<double>(least, most)(random); };
  Eigen::VectorXd theta(RigParameters::count);
  for (Eigen::Index i = 0; i < 2; ++i) {
    const double mass_kg = draw(3.0, 15.0);
    const double rate = 2.0 * M_PI * (hard ? draw(60.0, 100.0) : draw(6.0, 12.0));
    const double stiffness_N_m = (mass_kg + 6.0) * rate * rate;
    theta(RigParameters::ln_mass(i)) = std::log(mass_kg);
    theta(RigParameters::ln_stiffness(i)) = std::log(stiffness_N_m);
    theta(RigParameters::ln_damping(i)) = std::log(2.0 * draw(0.02, 0.1) * stiffness_N_m / rate);
    theta(RigParameters::ln_gain(i)) = draw(-0.1, 0.1);
    theta(RigParameters::gain_rad(i)) = draw(-3.0, 3.0);
    theta(RigParameters::ln_corner(i)) = std::log(draw(0.3, 20.0));
  }
  theta(RigParameters::coupling_stiffness) = draw(-0.1, 0.1);
  theta(RigParameters::coupling_mass) = draw(-0.1, 0.1);
  theta(RigParameters::coupling_damping) = draw(-0.05, 0.05);
  theta.conservativeResize(bodies.parameters());
  if (bodies.bed) {
    theta(RigParameters::bed_ln_mass) = std::log(draw(200.0, 2000.0));
    theta(RigParameters::bed_ln_move) = std::log(draw(15.0, 60.0));
    theta(RigParameters::bed_ln_tilt) = std::log(draw(15.0, 60.0));
    theta(RigParameters::bed_ln_loss) = std::log(draw(0.03, 0.15));
    theta(RigParameters::bed_ln_radius) = std::log(draw(0.3, 0.7));
    theta(RigParameters::bed_off_center) = draw(-0.1, 0.1);
  }
  for (int body = 0; body < bodies.attached; ++body) {
    const Eigen::Index first = bodies.attached_first(body);
    for (Eigen::Index i = 0; i < 2; ++i) theta(first + RigParameters::attached_to(i)) = draw(-1.0, 1.0);
    theta(first + RigParameters::attached_ln_rate) = std::log(draw(15.0, 40.0));
    theta(first + RigParameters::attached_ln_loss) = std::log(draw(0.05, 0.15));
  }
  return theta;
}

}  // namespace

int main() {
  std::mt19937_64 random(20261128);
  for (int number = 0; number < 200; ++number) {
    const Shaft shaft = drawn_shaft(random);
    const Eigen::VectorXd theta = drawn_rig(random, number % 2 == 0, {number >= 100, number / 2 % 3});
    const double speed_rad_s = std::uniform_real_distribution<double>(90.0, 250.0)(random);
    const auto body = dynamics_of(shaft);
    const std::array<Motion, 2> motions = number % 3 == 0 ? std::array{Motion::velocity, Motion::displacement}
                                                          : std::array{Motion::acceleration, Motion::acceleration};
    const Eigen::VectorXd alpha = rig_coefficients(theta, *body, speed_rad_s, motions);
    Json planes = Json::array();
    for (const Plane& plane : shaft.planes) planes.push_back(plane.position_m);
    std::puts(Json{{"diameter_m", shaft.tube->outside_diameter_m},
                   {"wall_m", shaft.tube->wall_m},
                   {"length_m", shaft.tube->length_m},
                   {"mass_kg", *shaft.mass_kg},
                   {"supports_m", {shaft.supports->a_m, shaft.supports->b_m}},
                   {"center_of_mass_m", *shaft.supports->center_of_mass_m},
                   {"planes_m", planes},
                   {"theta", std::vector<double>(theta.begin(), theta.end())},
                   {"on_bed", number >= 100},
                   {"speed_rad_s", speed_rad_s},
                   {"motions", number % 3 == 0 ? std::vector<int>{1, 0} : std::vector<int>{2, 2}},
                   {"alpha", std::vector<double>(alpha.begin(), alpha.end())}}
                  .dump()
                  .c_str());
  }
  return 0;
}
