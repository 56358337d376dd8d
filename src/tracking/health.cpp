#include "tracking/health.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace counterspot {
namespace {

constexpr double near_full_scale = 0.99;     // 127/128, the largest value of an 8-bit file, is above it
constexpr double beyond_full_scale = 1.001;  // a float file that goes beyond 1.0 is not cut off there
constexpr double silent_fraction = 1e-6;     // of full scale, root mean square: less than a 20-bit step
constexpr double drift_limit = 0.01;
constexpr std::int64_t few_turns = 30;
constexpr double rough_edge_turn = 1.0 / 360.0;  // one degree of phase on every edge
constexpr double weak_pulse_noises = 10.0;       // pulse height over noise
constexpr double steep = 8.0;          // of a vector, per relative change of speed (common practice, no source)
constexpr double surely = 4.0;         // standard uncertainties
constexpr double few_cycles = 6.0;     // of a beat in the spin
constexpr double heavy_beat = 0.3;     // line over order
constexpr double rising_noise = 4.0;   // of the variance: twice the uncertainty
constexpr double large_drift = 3.0;    // of the residual's root mean square
constexpr double coarse_share = 0.05;  // of order 1

void add(Track& track, WarningCode code, std::optional<std::string> sensor, std::string message) {
  track.warnings.push_back({code, std::move(sensor), std::move(message)});
}

std::string plural(std::int64_t n, const char* one, const char* many) {
  return fmt::format("{} {}", n, n == 1 ? one : many);
}

void report_tach(Track& track) {
  const TachReport& tach = track.tach;
  report_lost_and_extra(tach, track.warnings);
  const double jitter_turn = tach.timing_uncertainty_s * track.speed_rad_s / turn_rad;
  if (jitter_turn > rough_edge_turn) {
    add(track, WarningCode::tach_jitter, "tach",
        fmt::format("tach: edges waver by {:.2f} deg; fasten the sensor and sharpen the mark's edge",
                    360.0 * jitter_turn));
  }
  if (tach.noise > 0.0 && (tach.high - tach.low) < weak_pulse_noises * tach.noise) {
    add(track, WarningCode::weak_tach, "tach",
        fmt::format("tach: pulses are only {:.1f} times the noise; clean the mark or move the sensor closer",
                    (tach.high - tach.low) / tach.noise));
  }
}

/// How many cycles of the spin a line is away from the nearest tracked order.
double cycles_from_order(const SteadyLine& line, const SensorTrack& sensor, const Track& track) {
  double nearest = 1e300;
  for (const OrderVector& vector : sensor.orders) {
    nearest = std::min(nearest, std::abs(line.frequency_Hz - vector.order * track.speed_rad_s / turn_rad));
  }
  return nearest * track.duration_s;
}

std::string said_of(const SteadyLine& line) {
  switch (line.steady) {
    case Steadiness::in_time:
      return fmt::format(
          "a steady line at {:.1f} Hz that does not turn with the shaft was fitted along; look for its source",
          line.frequency_Hz);
    case Steadiness::in_angle:
      return fmt::format(
          "order {:.3f} ({:.1f} Hz at this speed) turns with the shaft and was fitted along: a gear or a belt",
          line.order, line.frequency_Hz);
    case Steadiness::either: break;
  }
  return fmt::format(
      "a steady line at {:.1f} Hz was fitted along; at so steady a speed it may also be order {:.3f} of the shaft; "
      "look "
      "for its source",
      line.frequency_Hz, line.order);
}

void report_lines(Track& track, const SensorTrack& sensor) {
  for (const SteadyLine& line : sensor.lines) {
    const bool turns = line.steady == Steadiness::in_angle;
    add(track, turns ? WarningCode::other_order : WarningCode::interference, sensor.name,
        fmt::format("sensor {}: {}", sensor.name, said_of(line)));
    const double largest =
        std::max_element(sensor.orders.begin(), sensor.orders.end(), [](const auto& a, const auto& b) {
          return a.amplitude() < b.amplitude();
        })->amplitude();
    if (cycles_from_order(line, sensor, track) > few_cycles || line.amplitude < heavy_beat * largest) continue;
    add(track, WarningCode::beating, sensor.name,
        fmt::format("sensor {}: heavy beating with {:.2f} Hz, {:.1f} cycles in the spin; record longer, or stop the "
                    "neighbour",
                    sensor.name, line.frequency_Hz, cycles_from_order(line, sensor, track)));
  }
}

/// Order 1 of a sensor, if it was asked for.
const OrderVector* first_order(const SensorTrack& sensor) {
  const auto found =
      std::find_if(sensor.orders.begin(), sensor.orders.end(), [](const OrderVector& v) { return v.order == 1.0; });
  return found == sensor.orders.end() ? nullptr : &*found;
}

void report_noise(Track& track, const SensorTrack& sensor) {
  if (sensor.noise_rise > rising_noise) {
    const double longer_s = std::max(20.0, 4.0 * track.duration_s);
    add(track, WarningCode::beating, sensor.name,
        fmt::format(
            "sensor {}: the noise rises towards the order, as beside a resonance or a neighbour less than a beat "
            "away, which makes the uncertainty {:.0f} times as large; record {:.0f} s, or spin at another speed",
            sensor.name, std::sqrt(sensor.noise_rise), longer_s));
  }
  const OrderVector* first = first_order(sensor);
  if (first == nullptr) return;
  // what the drift would have made of order 1, had it not been fitted along
  const double made = std::abs(sensor.level_change) / (0.5 * turn_rad * static_cast<double>(track.revolutions));
  if (made > 2.0 * first->u_amplitude() && std::abs(sensor.level_change) > large_drift * sensor.residual_rms) {
    add(track, WarningCode::moving_level, sensor.name,
        fmt::format(
            "sensor {}: its rest level moved by {:.2g} times order 1 during the spin; a trend was fitted along; let "
            "the sensors settle before recording",
            sensor.name, std::abs(sensor.level_change) / first->amplitude()));
  }
  const auto steps = std::find_if(first->budget.begin(), first->budget.end(),
                                  [](const BudgetItem& item) { return item.source == "steps of the converter"; });
  if (steps == first->budget.end()) return;
  const double u_steps = std::sqrt(steps->covariance.trace());
  const double u_rest = std::sqrt(std::max(0.0, (first->covariance - steps->covariance).trace()));
  if (u_steps > u_rest && 2.0 * u_steps > coarse_share * first->amplitude()) {
    add(track, WarningCode::coarse_steps, sensor.name,
        fmt::format("sensor {}: order 1 is {:.2g} steps of the converter, and little noise moves it over them; its "
                    "uncertainty is that of the steps",
                    sensor.name, first->amplitude() / sensor.step));
  }
}

void report_disturbances(Track& track) {
  for (const SensorTrack& sensor : track.sensors) {
    report_lines(track, sensor);
    report_noise(track, sensor);
    if (sensor.knocks > 0) {
      add(track, WarningCode::knocks, sensor.name,
          fmt::format("sensor {}: {} during the spin; those turns count for less", sensor.name,
                      plural(sensor.knocks, "knock", "knocks")));
    }
  }
}

/// How much of a vector one relative unit of speed changes, as displacement: n of |Z| ~ Ω^n and the phase in radians.
/// Far from a resonance that is between 0 and 2; eight is within some 13 % of a lightly damped one, 2/|1 − r²| = 8.
void report_resonance(Track& track) {
  for (const SensorTrack& sensor : track.sensors) {
    for (const OrderVector& vector : sensor.orders) {
      if (vector.order != 1.0 || !vector.slope.measured || vector.amplitude() == 0.0) continue;
      const Phasor whole = vector.slope.per_rad_s * track.speed_rad_s / vector.value;
      const double steepness = std::abs(whole - (growth_exponent(sensor.motion) - 1.0));
      const double u = vector.slope.u_per_rad_s * track.speed_rad_s / vector.amplitude();
      if (steepness - surely * u < steep) continue;
      add(track, WarningCode::near_resonance, sensor.name,
          fmt::format(
              "sensor {}: near a resonance: one percent of speed changes the reading by {:.0f} % and {:.0f} deg; "
              "balance at another speed",
              sensor.name, std::abs(whole.real()), std::abs(degrees(0.01 * whole.imag()))));
    }
  }
}

void report_loose_cables(Track& track) {
  for (const SensorTrack& sensor : track.sensors) {
    if (sensor.breaks == 0) continue;
    add(track, WarningCode::loose_cable, sensor.name,
        fmt::format("sensor {}: the signal went away or stepped {}; look at its cable and plugs, and spin again",
                    sensor.name, plural(sensor.breaks, "time", "times")));
  }
}

void report_spin(Track& track) {
  if (track.speed_drift_fraction > drift_limit) {
    add(track, WarningCode::speed_drift, std::nullopt,
        fmt::format("the speed changed by {:.1f} % during the spin; let it settle before recording",
                    100.0 * track.speed_drift_fraction));
  }
  if (track.revolutions < few_turns) {
    add(track, WarningCode::few_revolutions, std::nullopt,
        fmt::format("only {} whole turns were recorded; record at least {}", track.revolutions, few_turns));
  }
  if (track.trimmed) {
    add(track, WarningCode::steady_part, std::nullopt,
        fmt::format("the speed changed; only the steady part from {:.2f} s to {:.2f} s was used", track.begin_s,
                    track.begin_s + track.duration_s));
  }
  report_disturbances(track);
  report_loose_cables(track);
  report_resonance(track);
  for (const SensorTrack& sensor : track.sensors) {
    const OrderVector* first = nullptr;
    const OrderVector* second = nullptr;
    for (const OrderVector& vector : sensor.orders) {
      if (vector.order == 1) first = &vector;
      if (vector.order == 2) second = &vector;
    }
    if (first == nullptr || second == nullptr) continue;
    const double u = 2.0 * std::hypot(first->u_amplitude(), second->u_amplitude());
    if (second->amplitude() <= order_2_share * first->amplitude() + u) continue;
    add(track, WarningCode::order_2_dominant, sensor.name,
        fmt::format("sensor {}: order 2 is {:.1f} times order 1: joint angles and phasing, which no weight removes",
                    sensor.name, second->amplitude() / first->amplitude()));
  }
}

}  // namespace

void report_lost_and_extra(const TachReport& tach, Warnings& warnings) {
  if (tach.lost > 0) {
    warnings.push_back({WarningCode::lost_pulses, "tach",
                        fmt::format("tach: {} lost and bridged; look at the mark's contrast and the sensor's distance",
                                    plural(tach.lost, "pulse was", "pulses were"))});
  }
  if (tach.doubled > 0) {
    warnings.push_back({WarningCode::double_pulses, "tach",
                        fmt::format("tach: {} dropped; look for glare or a mark that peels off",
                                    plural(tach.doubled, "extra edge was", "extra edges were"))});
  }
}

HealthWatch::HealthWatch(const RecordingInfo& info, std::vector<std::size_t> channels)
    : info_(info), channels_(std::move(channels)), seen_(channels_.size()) {}

void HealthWatch::add(const TurnOfSamples& turn, const TurnSums& sums, const SpinStream& stream) {
  const TurnFrames& frames = turn.frames;
  for (std::size_t c = 0; c < frames.stride; ++c) {
    if (std::isfinite(sums.levels[c].square)) continue;
    stream.check_finite(turn.first_frame, turn.first_frame + static_cast<std::int64_t>(frames.count));
  }
  for (std::size_t s = 0; s < channels_.size(); ++s) {
    Seen& seen = seen_[s];
    const LevelSums& level = sums.levels[channels_[s]];
    const Samples x = frames.data + channels_[s];
    seen.largest_square = std::max(seen.largest_square, level.largest_square);
    for (std::size_t n = 0; n < frames.count && !seen.varies; ++n) {
      if (n == 0 && turn.first_frame >= 0 && seen.first == 0.0) seen.first = x[0];
      seen.varies = x[n * frames.stride] != seen.first;
    }
    if (!info_.full_scale || level.largest_square < near_full_scale * near_full_scale) continue;
    for (std::size_t n = 1; n < frames.count; ++n) {
      const double here = x[n * frames.stride];
      if (std::abs(here) >= near_full_scale && here == x[(n - 1) * frames.stride]) ++seen.held_at_end;
    }
  }
}

void HealthWatch::report(Track& track) const {
  for (std::size_t s = 0; s < seen_.size(); ++s) {
    const Seen& seen = seen_[s];
    const SensorTrack& sensor = track.sensors[s];
    if (seen.held_at_end > 0 && seen.largest_square < beyond_full_scale * beyond_full_scale) {
      counterspot::add(track, WarningCode::clipped, sensor.name,
                       fmt::format("sensor {}: {} at the end of the converter's range; lower the gain and record again",
                                   sensor.name, plural(seen.held_at_end, "sample stands", "samples stand")));
    }
    if (!seen.varies || (info_.full_scale && seen.largest_square < silent_fraction * silent_fraction)) {
      counterspot::add(
          track, WarningCode::dead_channel, sensor.name,
          fmt::format("sensor {}: there is no signal; check cable, supply and channel number", sensor.name));
    }
  }
  report_tach(track);
  report_spin(track);
}

}  // namespace counterspot
