#include "rigsim/flexible.hpp"

#include <algorithm>

namespace rigsim {

namespace {

double mass_per_length(const counterspot::Beam& beam, double position_m) {
  for (const counterspot::BeamSection& s : beam.sections) {
    if (position_m <= s.end_m)
      return s.material.density_kg_m3 * counterspot::pi / 4.0 *
             (s.outside_diameter_m * s.outside_diameter_m - s.bore_m * s.bore_m);
  }
  return 0.0;
}

}  // namespace

FlexibleRig::FlexibleRig(const FlexibleTruth& truth) : truth_(truth) {
  counterspot::BeamOptions options;
  options.elements = 60;
  options.modes = truth.modes;
  options.whirl = counterspot::Whirl::at_rest;
  const counterspot::BeamSummary beam = counterspot::critical_speeds(truth.beam, options);
  nodes_m_ = beam.nodes_m;
  for (const counterspot::BeamMode& found : beam.modes) {
    Mode mode{found.speed_rad_s, 0.0, found.shape};
    for (std::size_t i = 1; i < nodes_m_.size(); ++i) {  // of φ² over a stretch where φ goes straight
      const double a = mode.shape[i - 1];
      const double b = mode.shape[i];
      mode.mass_kg += mass_per_length(truth.beam, 0.5 * (nodes_m_[i - 1] + nodes_m_[i])) *
                      (nodes_m_[i] - nodes_m_[i - 1]) * (a * a + a * b + b * b) / 3.0;
    }
    for (const counterspot::BeamMass& mass : truth.beam.masses) {
      const double shape = shape_at(mode, mass.position_m);
      mode.mass_kg += mass.mass_kg * shape * shape;
    }
    modes_.push_back(std::move(mode));
  }
}

double FlexibleRig::shape_at(const Mode& mode, double position_m) const {
  const auto next = std::lower_bound(nodes_m_.begin() + 1, nodes_m_.end() - 1, position_m);
  const auto i = static_cast<std::size_t>(next - nodes_m_.begin());
  const double part = (position_m - nodes_m_[i - 1]) / (nodes_m_[i] - nodes_m_[i - 1]);
  return (1.0 - part) * mode.shape[i - 1] + part * mode.shape[i];
}

std::vector<Phasor> FlexibleRig::steady_vectors(const std::vector<UnbalanceSlice>& fitted, double speed_rad_s) const {
  std::vector<Phasor> vectors(truth_.sensors_m.size());
  const double squared = speed_rad_s * speed_rad_s;
  for (const Mode& mode : modes_) {
    Phasor pull = 0.0;
    for (const auto* slices : {&truth_.slices, &fitted}) {
      for (const UnbalanceSlice& slice : *slices) pull += slice.unbalance_kg_m * shape_at(mode, slice.position_m);
    }
    const Phasor dynamic(mode.rate_rad_s * mode.rate_rad_s - squared,
                         -2.0 * truth_.damping * mode.rate_rad_s * speed_rad_s);
    const Phasor swing = pull * squared / (mode.mass_kg * dynamic);
    for (std::size_t s = 0; s < vectors.size(); ++s)
      vectors[s] -= squared * swing * shape_at(mode, truth_.sensors_m[s]);  // acceleration
  }
  return vectors;
}

}  // namespace rigsim
