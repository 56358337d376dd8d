#pragma once

#include <complex>
#include <vector>

#include "counterspot/tracking/tracking.hpp"
#include "tracking/slow_signal.hpp"

namespace counterspot {

/// Re(value·e^{−jφ}) with φ = 2πfn, n in frames from the start of the recording, or φ = κθ.
struct Component {
  double cycles_per_frame = 0.0;  ///< f; 0 if it stands still over the angle
  double order = 0.0;             ///< κ; 0 if it stands still over time
  std::complex<double> value;     ///< in units of a sample, peak
};

/// A component that is no order asked for, and what it is.
struct FoundComponent {
  Component component;  ///< over time unless it is known to turn with the shaft
  double mean_order = 0.0;
  Steadiness steady = Steadiness::either;
};

/// What a sensor shows beside the orders asked for.
struct FoundComponents {
  std::vector<FoundComponent> steady;   ///< the strongest first
  std::vector<Component> whole_orders;  ///< those not asked for
};

/// From where on a steady component is surely found, in its power over that of the noise beside it in the spectrum (of
/// noise alone a bin reaches q with probability e^{−q}), with what else it takes: see below.
inline constexpr double least_over_noise = 18.0;
/// Of the largest whole order: what is less may be made by the tach's edges, and does no harm.
inline constexpr double least_share_of_largest = 0.01;
/// Cycles over the spin between a component and a whole order or one that is asked for.
inline constexpr double least_cycles_apart = 1.2;

/// Steady components of every sensor beside whole orders and those asked for, from a tenth of an order up. Those are
/// taken off first (least squares over the angle; with the level, its trend, and for those asked for how they follow
/// the speed). What is left is looked at twice: its spectrum over time (Hann window, FFTW) shows a line that does not
/// turn with the shaft as a peak, and smears a component that does by its order times the drift of the speed; its
/// spectrum over the shaft's angle the other way round. The highest peak of either over the noise beside it is taken,
/// refined by least squares with all that was found before, taken off, and the search goes on. It stands still over
/// that in which it leaves less behind, if the difference cannot be noise (e^{−10}) and is more than 2 %; else nobody
/// can tell. A peak whose amplitude differs between the eighths of the spin is no steady component (the noise of a
/// resonance, say) and is left where it is.
std::vector<FoundComponents> find_components(const SlowStretch& stretch, const std::vector<double>& asked,
                                             double highest_order);

}  // namespace counterspot
