#pragma once

#include <vector>

#include "counterspot/shaft/beam.hpp"
#include "rigsim/truth.hpp"

namespace rigsim {

/// A shaft that bends, on any number of pedestals, from the library's beam model: its natural modes at rest with the
/// pedestals as springs and masses, each answering by itself,
///   x(z) = Σ_n φ_n(z)·(Σ U φ_n(z_U))·Ω² / (m_n (ω_n² − Ω² − 2jζω_nΩ))   (lag phasors: the usual one's conjugate).
/// Modes beyond those kept would add a stiff, nearly even response. One measuring direction, no gyroscopic moments.
struct FlexibleTruth {
  counterspot::Beam beam;  ///< supports with their stiffness, pedestals' masses among the masses
  double damping = 0.02;   ///< of every mode, fraction of critical
  int modes = 8;
  std::vector<double> sensors_m;  ///< where the sensors sit along the shaft: acceleration
  std::vector<UnbalanceSlice> slices;
};

class FlexibleRig {
 public:
  /// @throws counterspot::Error as critical_speeds.
  explicit FlexibleRig(const FlexibleTruth& truth);

  /// Order-1 acceleration at the sensors, m/s², peak, lag phasors.
  std::vector<Phasor> steady_vectors(const std::vector<UnbalanceSlice>& fitted, double speed_rad_s) const;

  double mode_rad_s(std::size_t mode) const { return modes_[mode].rate_rad_s; }

 private:
  struct Mode {
    double rate_rad_s;
    double mass_kg;             ///< ∫ μ φ² + Σ m φ²
    std::vector<double> shape;  ///< at the nodes
  };
  double shape_at(const Mode& mode, double position_m) const;

  FlexibleTruth truth_;
  std::vector<double> nodes_m_;
  std::vector<Mode> modes_;
};

}  // namespace rigsim
