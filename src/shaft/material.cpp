#include "counterspot/shaft/beam.hpp"

#include <array>

#include "counterspot/units/angle.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

Material material_named(std::string_view name) {
  static const std::array<Material, 4> materials = {{{"steel", 206.8e9, 0.29, 7850.0},
                                                     {"stainless steel", 193.0e9, 0.29, 8000.0},
                                                     {"aluminium", 68.9e9, 0.33, 2700.0},
                                                     {"aluminum", 68.9e9, 0.33, 2700.0}}};
  for (const Material& material : materials)
    if (material.name == name) return material;
  throw Error(Trouble::request, "no_such_material", "there is no material '" + std::string(name) + "'",
              "use steel, stainless steel or aluminium");
}

double tube_mass_kg(const Tube& tube) {
  const double outside = tube.outside_diameter_m;
  const double bore = outside - 2.0 * tube.wall_m;
  return material_named(tube.material).density_kg_m3 * pi / 4.0 * (outside * outside - bore * bore) * tube.length_m;
}

}  // namespace counterspot
