#include "typed_shop.hpp"

#include <fmt/format.h>

namespace counterspot::test {

std::string TypedShop::spin(const std::string& label, const std::vector<Piece>& fitted) const {
  std::array<Vector, 2> on = shaft_gmm;
  std::string pieces;
  for (const Piece& piece : fitted) {
    on[static_cast<std::size_t>(piece.plane)] += at(piece.mass_g * radius_mm, piece.angle_deg);
    pieces += fmt::format("{}{{ plane = \"{}\", mass = \"{} g\", angle = \"{} deg\" }}", pieces.empty() ? "" : ", ",
                          piece.plane == 0 ? "A" : "B", piece.mass_g, piece.angle_deg);
  }
  auto typed = [](const Vector& gmm) {
    return fmt::format("{:.9f} mm/s @ {:.9f} deg ± 0.001 mm/s", 0.02 * std::abs(gmm),
                       std::arg(gmm) * 180.0 / 3.14159265358979323846);
  };
  return fmt::format(
      "[[spin]]\nlabel = \"{}\"\nspeed = \"1800 rpm\"\nvector = {{ A = \"{}\", B = \"{}\" }}\nfitted = [ {} ]\n", label,
      typed(on[0]), typed(on[1]), pieces);
}

}  // namespace counterspot::test
