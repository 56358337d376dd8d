#pragma once

#include <array>
#include <complex>
#include <string>
#include <vector>

#include "demo_files.hpp"
#include "support.hpp"

namespace counterspot::test {

/// A shaft on a rig whose sensors feel their own plane only, 0.02 mm/s for 1 g·mm and in phase, with spins typed in:
/// what comes out can be worked out with a pencil.
struct TypedShop {
  using Vector = std::complex<double>;  // g·mm, or mm/s
  struct Piece {
    int plane;
    double mass_g, angle_deg;
  };

  TemporaryFolder folder;
  std::array<Vector, 2> shaft_gmm;

  TypedShop(Vector at_a_gmm, Vector at_b_gmm) : shaft_gmm{at_a_gmm, at_b_gmm} {
    write_file(folder / "rig.toml", rig_toml({"bay 2", "20 mV/(mm/s)"}));
    write_file(folder / "shaft.toml", shaft_toml());
  }

  static Vector at(double size, double angle_deg) {
    return std::polar(size, angle_deg * 3.14159265358979323846 / 180.0);
  }
  static constexpr double radius_mm = 39.0;

  /// As found, a trial at each plane, and the shaft with these pieces on it.
  void write_spins(const std::vector<Piece>& on_shaft) const {
    std::string text = "rig = \"rig.toml\"\nshaft = \"shaft.toml\"\n";
    text += spin("as found", {}) + spin("trial at A", {{0, 10.0, 0.0}}) + spin("trial at B", {{1, 10.0, 0.0}}) +
            spin("now", on_shaft);
    write_file(folder / "spins.toml", text);
  }
  Ran run(const std::vector<std::string>& arguments) const {
    return run_program(arguments, "/dev/null", folder.path());
  }

 private:
  std::string spin(const std::string& label, const std::vector<Piece>& fitted) const;
};

}  // namespace counterspot::test
