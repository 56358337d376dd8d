#pragma once

#include <optional>
#include <string>

namespace counterspot {

/// An isotropic material. Handbook values: steel and stainless steel E, ρ as in the trade's tube tables (206.8 GPa,
/// 7850 kg/m³; 193 GPa, 8000 kg/m³), aluminium 6061 (68.9 GPa, 2700 kg/m³); G from Poisson's ratio 0.29, 0.29, 0.33
/// (any materials handbook).
struct Material {
  std::string name;
  double youngs_modulus_Pa = 0.0;
  double poisson_ratio = 0.0;  ///< 0 to 0.5
  double density_kg_m3 = 0.0;

  double shear_modulus_Pa() const { return youngs_modulus_Pa / (2.0 * (1.0 + poisson_ratio)); }
};

/// A stretch of the shaft of one round section. Positions along the axis in m, from any one origin.
struct BeamSection {
  double begin_m = 0.0;
  double end_m = 0.0;               ///< > begin_m
  double outside_diameter_m = 0.0;  ///< > 0
  double bore_m = 0.0;              ///< 0 for a solid bar; < outside_diameter_m
  Material material;
  double stiffness_fraction = 1.0;  ///< of the section's bending and shear stiffness, (0, 1]: below 1 for a slip spline

  double mass_per_length_kg_m() const;
};

/// Something carried that does not stiffen: a yoke, half a joint, a flange.
struct BeamMass {
  double position_m = 0.0;
  double mass_kg = 0.0;                  ///< ≥ 0
  double diametral_inertia_kg_m2 = 0.0;  ///< about a diameter through the position, ≥ 0
  double polar_inertia_kg_m2 = 0.0;      ///< about the axis, ≥ 0
};

/// Where the shaft is held, alike in all directions across the axis.
struct BeamSupport {
  double position_m = 0.0;
  std::optional<double> stiffness_N_m;  ///< empty: does not give
  bool clamped = false;                 ///< true: slope held too
};

}  // namespace counterspot
