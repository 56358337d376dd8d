#include <algorithm>
#include <cmath>

#include "counterspot/tracking/order_spectrum.hpp"
#include "counterspot/tracking/sweep.hpp"
#include "counterspot/tracking/tracking.hpp"

namespace counterspot {

namespace {

/// By what an amplitude of this angular frequency changes from one motion to another.
double size_of_view(Motion from, Motion to, double rad_s) {
  return rad_s > 0.0 || from == to ? std::abs(view_as({1.0, Phasor(1.0, 0.0)}, from, to, rad_s).value) : 0.0;
}

Motion motion_of(const Sweep& sweep, const std::string& sensor) {
  const auto at = std::find(sweep.sensors.begin(), sweep.sensors.end(), sensor) - sweep.sensors.begin();
  return sweep.motions[static_cast<std::size_t>(at)];
}

}  // namespace

Sweep view_as(const Sweep& sweep, Motion motion) {
  Sweep view = sweep;
  for (SweepPoint& point : view.points) {
    for (std::size_t s = 0; s < point.vectors.size(); ++s) {
      for (std::size_t o = 0; o < point.vectors[s].size(); ++o) {
        Phasor& z = point.vectors[s][o];
        const OrderVector seen = view_as({sweep.orders[o], z}, sweep.motions[s], motion, point.speed_rad_s);
        if (s < point.u.size())
          point.u[s][o] *= size_of_view(sweep.motions[s], motion, sweep.orders[o] * point.speed_rad_s);
        z = seen.value;
      }
    }
  }
  for (Resonance& resonance : view.resonances)
    resonance.peak_amplitude *= size_of_view(motion_of(sweep, resonance.sensor), motion, resonance.peak_speed_rad_s);
  for (FixedLine& line : view.lines) {
    const double size = size_of_view(motion_of(sweep, line.sensor), motion, turn_rad * line.frequency_Hz);
    line.amplitude *= size;
    line.u_bridged *= size;
  }
  std::fill(view.motions.begin(), view.motions.end(), motion);
  return view;
}

SpeedFrequencyMaps view_as(const SpeedFrequencyMaps& maps, Motion motion) {
  SpeedFrequencyMaps view = maps;
  for (SpeedFrequencyMap& map : view.sensors) {
    for (std::size_t line = 0; line < map.lines; ++line) {
      const auto size = static_cast<float>(size_of_view(map.motion, motion, turn_rad * map.frequency_Hz_at(line)));
      for (std::size_t row = 0; row < map.rows(); ++row) map.amplitudes[row * map.lines + line] *= size;
    }
    map.motion = motion;
  }
  return view;
}

}  // namespace counterspot
