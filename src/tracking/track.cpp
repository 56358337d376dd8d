#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/tracking/tracking.hpp"
#include "counterspot/units/error.hpp"
#include "tracking/budget.hpp"
#include "tracking/cells.hpp"
#include "tracking/converter_step.hpp"
#include "tracking/encoder_watch.hpp"
#include "tracking/health.hpp"
#include "tracking/joint_fit.hpp"
#include "tracking/level_trend.hpp"
#include "tracking/loose_contact.hpp"
#include "tracking/measured_spin.hpp"
#include "tracking/order_fit.hpp"
#include "tracking/orders.hpp"
#include "tracking/sensor_channels.hpp"
#include "tracking/slow_signal.hpp"
#include "tracking/spin_stream.hpp"
#include "tracking/steady.hpp"
#include "tracking/steady_components.hpp"

namespace counterspot {
namespace {

constexpr std::int64_t least_turns = 4;
constexpr double least_turns_for_components = 24.0;

constexpr double least_cycles_of_order = 4.0;

/// Whole orders fitted along with orders that are not, so that they do not leak into them.
std::vector<double> with_whole_ones(std::vector<double> orders) {
  if (are_whole(orders)) return orders;
  const double highest = std::min(100.0, std::floor(orders.back()) + 2.0);
  for (double k = 1.0; k <= highest; k += 1.0) {
    if (std::find(orders.begin(), orders.end(), k) == orders.end()) orders.push_back(k);
  }
  std::sort(orders.begin(), orders.end());
  return orders;
}

/// Four cycles of every order, and four of its distance to what lies next to it; 0 is DC.
void check_length_for(const std::vector<double>& asked, const Cells& cells, std::int64_t turns,
                      const std::string& name) {
  for (const double k : asked) {
    double distance = k;
    for (const double other : cells.orders()) {
      if (other != k) distance = std::min(distance, std::abs(k - other));
    }
    if (distance * static_cast<double>(turns) >= least_cycles_of_order) continue;
    throw Error(Trouble::recording, "too_short_for_order",
                fmt::format("{}: {} turns are too few to tell order {:g} from what lies beside it; {:.0f} are needed",
                            name, turns, k, std::ceil(least_cycles_of_order / distance)),
                "record longer, or leave that order out");
  }
}

Error too_few_turns(const SpinStream& stream, const RecordingInfo& info, const TachSetup& tach, std::int64_t turns) {
  const std::string& name = info.name;
  const double recorded_s = static_cast<double>(stream.frames_read()) / info.sample_rate_Hz;
  const int n = tach.pulses_per_revolution;
  if (turns == 0 && n > 1 && stream.clock().seen() > learning_turns * n) {
    return {Trouble::recording, "no_identifiable_pulse",
            fmt::format("{}: none of the {} pulses of a turn can be told from the others, so there is no phase{}", name,
                        n, tach.encoder ? ", nor is the direction looked at" : ""),
            tach.encoder
                ? "record the encoder's index too, and write its channel as index_channel under [tach]"
                : "make one mark wide, leave one out, or use one mark; check pulses_per_revolution in the rig file"};
  }
  const bool by_times = !tach.times_file.empty() || !info.edge_times_s.empty();
  if (by_times && stream.clock().seen() <= least_turns) {
    return {Trouble::recording, "no_tach",
            fmt::format("{}: {} of the times of edges in {} lie within its {:.4g} s", name, stream.clock().seen(),
                        tach.times_file.empty() ? "the tach's array" : tach.times_file, recorded_s),
            "times are read as s: write them in s, and check that they belong to this recording"};
  }
  return {Trouble::recording, "no_tach",
          fmt::format("{}: the tach shows {} whole turns; at least {} are needed", name, turns, least_turns),
          "check the tach's aim at the mark, or record a longer spin"};
}

std::int64_t runs_below_one(const std::vector<double>& weights) {
  std::int64_t runs = 0;
  bool inside = false;
  for (const double w : weights) {
    if (w < 1.0 && !inside) ++runs;
    inside = w < 1.0;
  }
  return runs;
}

/// What is taken off a sensor's sums before the orders are fitted to them.
struct TakenOff {
  std::vector<FoundComponent> steady;
  double level_change = 0.0;  // in units of a sample
};

void take_off(Cells& cells, CellRange range, std::size_t sensor, const Component& c) {
  std::vector<std::complex<double>> sums(cells.orders().size());
  const auto part_of = [&](const Cell& cell, double k) {
    return 0.5 * (c.value * sum_over(cell, k - c.order, c.cycles_per_frame) +
                  std::conj(c.value) * sum_over(cell, k + c.order, -c.cycles_per_frame));
  };
  for (std::size_t i = range.begin; i < range.end; ++i) {
    for (std::size_t o = 0; o < sums.size(); ++o) sums[o] = part_of(cells.cell(i), cells.orders()[o]);
    cells.take_off(i, sensor, part_of(cells.cell(i), 0.0).real(), 0.0, sums);
  }
}

/// Whole orders that were not asked for leak into those that were by what a turn's ends cut off, about a frame of each
/// turn. Little against the noise of a turn, they stay.
bool leaks(const Component& whole_order, const OrderFit& fit, double frames_per_turn) {
  constexpr double of_a_turn = 0.02;
  return std::abs(whole_order.value) > of_a_turn * std::sqrt(fit.mean_square_residual * frames_per_turn);
}

/// Steady components beside the orders, and the movement of the rest level.
std::vector<TakenOff> take_off_disturbances(Cells& cells, CellRange range, const SlowSignal& slow) {
  std::vector<TakenOff> taken(cells.sensors());
  const double begin = cells.cell(range.begin).begin_frame;
  const double end = cells.cell(range.end - 1).end_frame;
  std::vector<OrderFit> fits = fit_orders(cells, range);
  const auto stretch = slow.longest(begin, end, least_turns_for_components);
  // fitted to a part only, a component goes astray in the rest; in so long a recording it hardly leaks
  const bool nearly_all = stretch && static_cast<double>(stretch->size()) * stretch->step_frames > 0.9 * (end - begin);
  if (stretch) {
    const auto found = find_components(*stretch, cells.orders(), slow.highest_order());
    const double frames_per_turn = static_cast<double>(stretch->size()) * stretch->step_frames / stretch->turns();
    for (std::size_t s = 0; s < taken.size(); ++s) {
      taken[s].steady = found[s].steady;
      for (const Component& whole : found[s].whole_orders) {
        if (leaks(whole, fits[s], frames_per_turn)) take_off(cells, range, s, whole);
      }
      for (const FoundComponent& each : found[s].steady) {
        if (nearly_all) take_off(cells, range, s, each.component);
      }
    }
    fits = fit_orders(cells, range);
  }
  for (std::size_t s = 0; s < taken.size(); ++s) taken[s].level_change = take_off_trend(cells, range, s, fits[s]);
  return taken;
}

std::vector<SteadyLine> lines_of(const TakenOff& taken, double turns_per_s, double rate_Hz, double si) {
  std::vector<SteadyLine> lines;
  for (const FoundComponent& each : taken.steady) {
    const double f = each.component.cycles_per_frame;
    lines.push_back({f > 0.0 ? f * rate_Hz : each.mean_order * turns_per_s, si * std::abs(each.component.value),
                     each.mean_order, each.steady});
  }
  std::sort(lines.begin(), lines.end(),
            [](const SteadyLine& a, const SteadyLine& b) { return a.frequency_Hz < b.frequency_Hz; });
  return lines;
}

SensorTrack sensor_track(const RecordingInfo& info, const Sensor& sensor, const Cells& cells, CellRange range,
                         std::size_t index, const OrderFit& start, const TakenOff& taken, const Track& spin,
                         double hunting_share, const StepWatch& seen, const TrackOptions& options) {
  const MotionUnit scale = sensor_scale(info, sensor);
  const double si = scale.si_per_unit;
  SensorTrack track;
  track.name = sensor.name;
  track.motion = scale.motion;
  track.dc = si * start.dc;
  const double size = std::abs(si);  // a sensor turned over has a sensitivity below zero
  track.step = size * seen.step(index);
  track.level_change = si * taken.level_change;
  track.residual_rms = size * std::sqrt(start.mean_square_residual);
  track.breaks = breaks_of_contact(cells, range, index);
  track.lines = lines_of(taken, spin.speed_rad_s / turn_rad, info.sample_rate_Hz, size);
  std::int64_t frames = 0;
  for (std::size_t i = range.begin; i < range.end; ++i) frames += cells.cell(i).frames;
  std::vector<Component> beside;
  for (const FoundComponent& each : taken.steady) beside.push_back(each.component);
  for (std::size_t o = 0; o < cells.orders().size(); ++o) {
    const auto& asked = options.orders;
    if (std::find(asked.begin(), asked.end(), cells.orders()[o]) == asked.end()) continue;
    const JointFit fit = options.fit_disturbances ? fit_jointly(cells, range, index, o, start, beside)
                                                  : plain_fit(cells, range, index, o, start);
    track.orders.push_back(stated_vector(cells.orders()[o], fit, scale, sensor, spin, hunting_share));
    add_converter_steps(track.orders.back(), track.step, size * seen.range(index), track.residual_rms,
                        static_cast<double>(frames));
    track.noise_rise = std::max(track.noise_rise, fit.noise_rise);
    track.knocks = std::max(track.knocks, runs_below_one(fit.weights));
  }
  return track;
}

/// Reads the whole recording into cells.
void gather(SpinStream& stream, const TrackOptions& options, double rate_Hz, HealthWatch& health, EncoderWatch& encoder,
            Cells& cells, SlowSignal& slow, StepWatch& steps) {
  TurnSums sums;
  const bool whole = are_whole(cells.orders());
  while (auto turn = stream.next()) {
    if (turn->turn.begin_frame < options.from_s * rate_Hz) continue;
    if (turn->turn.end_frame > options.to_s * rate_Hz) break;
    if (!whole) turn->frames.first_angle_rad += std::remainder(turn->turn.begin_angle_rad, orders_begin_anew_rad);
    sum_turn(turn->frames, cells.orders(), sums);
    health.add(*turn, sums, stream);
    encoder.add(*turn);
    cells.add(*turn, sums, padded_channels(turn->frames.stride));
    if (options.fit_disturbances) slow.add(*turn);
    steps.add(*turn);
  }
}

std::int64_t turns_in(const Cells& cells, CellRange range) {
  std::int64_t turns = 0;
  for (std::size_t i = range.begin; i < range.end; ++i) turns += cells.cell(i).turns;
  return turns;
}

/// Speed, drift and place of the turns that are used.
void describe(Track& track, const Cells& cells, CellRange range, double rate_Hz) {
  double frames = 0.0;
  for (std::size_t i = range.begin; i < range.end; ++i) frames += cells.cell(i).turning_frames;
  track.revolutions = turns_in(cells, range);
  track.speed_rad_s = turn_rad * static_cast<double>(track.revolutions) * rate_Hz / frames;
  track.speed_drift_fraction = drift_of(cells, range);
  track.begin_s = cells.cell(range.begin).begin_frame / rate_Hz;
  track.duration_s = (cells.cell(range.end - 1).end_frame - cells.cell(range.begin).begin_frame) / rate_Hz;
  track.trimmed = range.size() < cells.size();
}

/// How the speed scatters from turn to turn. Independent edges, each uncertain by u_t, make of the speed of m turns a
/// variance of 2(u_t/T_m)² relative, T_m their duration: that part is taken off.
/// @return the share of the variance that is left.
double describe_hunting(Track& track, const Cells& cells, CellRange range, double rate_Hz) {
  std::vector<std::complex<double>> departures;
  double square = 0.0;
  double timing = 0.0;
  for (std::size_t i = range.begin; i < range.end; ++i) {
    const Cell& cell = cells.cell(i);
    const double turns = static_cast<double>(cell.turns);
    const double departure = turns * turn_rad * rate_Hz / cell.turning_frames / track.speed_rad_s - 1.0;
    departures.emplace_back(departure, 0.0);
    square += departure * departure;
    timing += 2.0 * std::pow(track.tach.timing_uncertainty_s * rate_Hz / cell.turning_frames, 2);
  }
  const auto count = static_cast<double>(range.size());
  track.speed_scatter_fraction = std::sqrt(std::max(0.0, square - timing) / count);
  // A mean is never less sure than one of those it is of, however slow the hunting.
  track.u_mean_speed_fraction =
      std::min(std::sqrt(uncertainty_of_mean(departures).covariance(0, 0)), track.speed_scatter_fraction);
  return square > 0.0 ? std::max(0.0, square - timing) / square : 0.0;
}

}  // namespace

MeasuredSpin measure_spin(Recording& recording, const Rig& rig, const TrackOptions& options) {
  const RecordingInfo& info = recording.info();
  const std::vector<std::size_t> channels = sensor_channels(info, rig).channels;
  check_orders(options.orders);
  Cells cells(with_whole_ones(sorted(options.orders)), channels);
  SpinStream stream(recording, rig.tach, channels, options.block_frames);
  HealthWatch health(info, rig);
  EncoderWatch encoder(info, rig);
  SlowSignal slow(channels, cells.orders().back());
  StepWatch steps(channels);
  gather(stream, options, info.sample_rate_Hz, health, encoder, cells, slow, steps);
  const CellRange range = options.find_steady ? steady_range(cells) : CellRange{0, cells.size()};
  if (turns_in(cells, range) < least_turns) throw too_few_turns(stream, info, rig.tach, turns_in(cells, range));
  check_length_for(options.orders, cells, turns_in(cells, range), info.name);
  Track result;
  result.file = info.name;
  describe(result, cells, range, info.sample_rate_Hz);
  result.tach = stream.report();
  const double hunting_share = describe_hunting(result, cells, range, info.sample_rate_Hz);
  const std::vector<TakenOff> taken =
      options.fit_disturbances ? take_off_disturbances(cells, range, slow) : std::vector<TakenOff>(channels.size());
  const std::vector<OrderFit> fits = fit_orders(cells, range);
  for (std::size_t s = 0; s < fits.size(); ++s) {
    result.sensors.push_back(
        sensor_track(info, rig.sensors[s], cells, range, s, fits[s], taken[s], result, hunting_share, steps, options));
  }
  health.describe(result, stream, {options.from_s * info.sample_rate_Hz, options.to_s * info.sample_rate_Hz});
  result.warnings = recording.warnings();
  health.report(result, stream);
  if (auto noticed = encoder.doubt()) result.warnings.push_back(std::move(*noticed));
  std::optional<Error> refusal = health.refusal(result);
  if (!refusal) refusal = encoder.refusal(info.name);
  return {std::move(result), refusal};
}

Track track(Recording& recording, const Rig& rig, const TrackOptions& options) {
  MeasuredSpin measured = measure_spin(recording, rig, options);
  if (measured.refusal) throw Error(*measured.refusal);
  return std::move(measured.track);
}

}  // namespace counterspot
