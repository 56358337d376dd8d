#include "tracking/health.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "tracking/health_text.hpp"
#include "tracking/speed_doubt.hpp"

namespace counterspot {
namespace {

constexpr double drift_limit = 0.01;
constexpr std::int64_t few_turns = 30;
constexpr double steep = 8.0;          // of a vector, per relative change of speed (common practice, no source)
constexpr double surely = 4.0;         // standard uncertainties
constexpr double few_cycles = 6.0;     // of a beat in the spin
constexpr double heavy_beat = 0.3;     // line over order
constexpr double rising_noise = 9.0;   // of the variance: three times the uncertainty
constexpr double worth_a_word = 1e-4;  // of order 1: an uncertainty under it changes nothing
constexpr double large_drift = 3.0;    // of the residual's root mean square
constexpr double coarse_share = 0.05;  // of order 1

void add(Track& track, WarningCode code, std::optional<std::string> sensor, std::string message) {
  track.warnings.push_back({code, std::move(sensor), std::move(message)});
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
          "a steady line at {:.1f} Hz was fitted along; it does not turn with the shaft; look for its source",
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
  const OrderVector* first = first_order(sensor);
  const bool matters = first == nullptr || first->u_amplitude() > worth_a_word * first->amplitude();
  if (sensor.noise_rise > rising_noise && matters) {
    const double longer_s = std::max(20.0, 4.0 * track.duration_s);
    add(track, WarningCode::beating, sensor.name,
        fmt::format(
            "sensor {}: the noise rises towards the order, as beside a resonance or a neighbour less than a beat "
            "away, which makes the uncertainty {:.0f} times as large",
            sensor.name, std::sqrt(sensor.noise_rise)));
    track.warnings.back().remedy = fmt::format("record {:.0f} s, or spin at another speed", longer_s);
  }
  if (first == nullptr) return;
  // what the drift would have made of order 1, had it not been fitted along
  const double made = std::abs(sensor.level_change) / (0.5 * turn_rad * static_cast<double>(track.revolutions));
  if (made > 2.0 * first->u_amplitude() && std::abs(sensor.level_change) > large_drift * sensor.residual_rms) {
    add(track, WarningCode::moving_level, sensor.name,
        fmt::format(
            "sensor {}: a trend of its rest level, {:.2g} times order 1 during the spin, was fitted along; let the "
            "sensors settle before recording",
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

/// Whether something else was said that makes harmonics out of a pure order 1.
bool is_distorted(const Track& track, const std::string& sensor) {
  return std::any_of(track.warnings.begin(), track.warnings.end(), [&](const Warning& warning) {
    return warning.sensor == sensor &&
           (warning.code == WarningCode::clipped || warning.code == WarningCode::flattened ||
            warning.code == WarningCode::loose_cable);
  });
}

void report_order_2(Track& track) {
  for (const SensorTrack& sensor : track.sensors) {
    if (is_distorted(track, sensor.name)) continue;
    const auto second =
        std::find_if(sensor.orders.begin(), sensor.orders.end(), [](const auto& each) { return each.order == 2.0; });
    if (second == sensor.orders.end() || sensor.motion == Motion::unscaled) continue;
    const bool slow = 2.0 * track.speed_rad_s / turn_rad < order_2_slow_Hz;
    const Motion motion = slow ? Motion::displacement : Motion::velocity;
    const OrderVector shown = view_as(*second, sensor.motion, motion, track.speed_rad_s);
    const double rms = std::sqrt(0.5) * shown.amplitude();
    const double limit = slow ? order_2_displacement_m : order_2_velocity_m_s;
    if (rms <= limit + 2.0 * std::sqrt(0.5) * shown.u_amplitude()) continue;
    const double unit = si_per_display_unit(motion);
    add(track, WarningCode::order_2_dominant, sensor.name,
        fmt::format("sensor {}: order 2 alone is {:.1f} {} rms, more than {:.2g}", sensor.name, rms / unit,
                    display_unit(motion), limit / unit));
  }
}

/// Once for a spin: there is nothing to be done about it there.
void report_unjudged_order_2(Track& track) {
  const bool unjudged = std::any_of(track.sensors.begin(), track.sensors.end(), [](const SensorTrack& sensor) {
    return sensor.motion == Motion::unscaled &&
           std::any_of(sensor.orders.begin(), sensor.orders.end(), [](const auto& each) { return each.order == 2.0; });
  });
  if (!unjudged) return;
  add(track, WarningCode::order_2_unjudged, std::nullopt,
      "order 2 is not judged: a sensor's sensitivity is unknown, and its limits are of velocity");
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
        fmt::format("only the steady part from {:.2f} s to {:.2f} s was used, for the speed changed", track.begin_s,
                    track.begin_s + track.duration_s));
  }
  report_disturbances(track);
  report_loose_cables(track);
  report_resonance(track);
  report_order_2(track);
  report_unjudged_order_2(track);
}

/// The sensors, then the tach if it has a channel.
std::vector<std::size_t> watched_channels(const RecordingInfo& info, const Rig& rig, const SensorChannels& sensors) {
  std::vector<std::size_t> watched = sensors.channels;
  if (const auto tach = find_tach_channel(info, rig.tach)) watched.push_back(*tach);
  return watched;
}

}  // namespace

HealthWatch::HealthWatch(const RecordingInfo& info, const Rig& rig)
    : info_(info),
      sensors_(sensor_channels(info, rig)),
      has_tach_channel_(find_tach_channel(info, rig.tach).has_value()),
      tach_scale_(info.full_scale ? rig.tach.full_scale_V.value_or(1.0) : 1.0),
      gatherer_(info.sample_rate_Hz, watched_channels(info, rig, sensors_)) {
  for (const std::size_t channel : sensors_.channels) channels_.emplace_back(info, channel);
}

void HealthWatch::add(const TurnOfSamples& turn, const TurnSums& sums, const SpinStream& stream) {
  const TurnFrames& frames = turn.frames;
  for (std::size_t c = 0; c < frames.stride; ++c) {
    if (std::isfinite(sums.levels[c].square)) continue;
    stream.check_finite(turn);
  }
  for (std::size_t s = 0; s < channels_.size(); ++s) channels_[s].add(turn, sums.levels[sensors_.channels[s]]);
  const Stretch* stretch = gatherer_.add(turn);
  if (stretch == nullptr) return;
  for (std::size_t s = 0; s < channels_.size(); ++s) channels_[s].add(*stretch, s, spectrum_.of(stretch->channels[s]));
  if (has_tach_channel_) tach_.add(*stretch, channels_.size(), stream.report().level / tach_scale_);
}

void HealthWatch::describe(Track& track, const SpinStream& stream, FrameRange asked) {
  for (std::size_t s = 0; s < channels_.size(); ++s) channels_[s].describe(track.sensors[s], track, sensors_.scales[s]);
  track.tach.gaps = tach_gaps(stream, asked, track, channels_, info_.sample_rate_Hz);
  track.tach.low_moved = tach_scale_ * tach_.low_moved();
  track.tach.high_moved = tach_scale_ * tach_.high_moved();
}

void HealthWatch::report(Track& track, const SpinStream& stream) const {
  for (std::size_t s = 0; s < channels_.size(); ++s) channels_[s].report(track.sensors[s], track.warnings);
  report_doubted_speed(track, channels_);
  report_tach(track, static_cast<double>(stream.frames_read()) / info_.sample_rate_Hz);
  report_spin(track);
}

std::optional<Error> HealthWatch::refusal(const Track& track) const {
  std::string dead;
  for (std::size_t s = 0; s < channels_.size(); ++s) {
    if (channels_[s].dead()) dead += (dead.empty() ? "" : " and ") + track.sensors[s].name;
  }
  if (!dead.empty()) {
    return Error(Trouble::recording, "dead_channel",
                 fmt::format("{}: there is no signal from sensor {}, so there is no reading", info_.name, dead),
                 "check cable, supply and channel number, and spin again");
  }
  return impossible_speed(track);
}

}  // namespace counterspot
