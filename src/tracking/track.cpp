#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/error.hpp"
#include "counterspot/tracking.hpp"
#include "tracking/budget.hpp"
#include "tracking/cells.hpp"
#include "tracking/health.hpp"
#include "tracking/joint_fit.hpp"
#include "tracking/order_fit.hpp"
#include "tracking/spin_stream.hpp"
#include "tracking/steady.hpp"

namespace counterspot {
namespace {

constexpr std::int64_t least_turns = 4;

std::vector<int> checked_orders(std::vector<int> orders) {
  std::sort(orders.begin(), orders.end());
  const bool repeats = std::adjacent_find(orders.begin(), orders.end()) != orders.end();
  if (orders.empty() || orders.front() < 1 || orders.back() > 100 || repeats) {
    throw Error(Trouble::request, "bad_orders", "the orders to track must be different whole numbers from 1 to 100",
                "give them as a list such as 1,2,3");
  }
  return orders;
}

Error too_few_turns(const SpinStream& stream, const std::string& name, const TachSetup& tach, std::int64_t turns) {
  const int n = tach.pulses_per_revolution;
  if (turns == 0 && n > 1 && stream.clock().seen() > learning_turns * n) {
    return {
        Trouble::recording, "no_identifiable_pulse",
        fmt::format("{}: none of the {} pulses of a turn can be told from the others, so there is no phase", name, n),
        "make one mark wide, leave one out, or use one mark; check pulses_per_revolution in the rig file"};
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

/// Lines found beside several orders are the same line if they lie within half a cycle of the spin.
void collect(std::vector<SteadyLine>& lines, const std::vector<LineFit>& found, double rate_Hz, double scale,
             double duration_s) {
  for (const LineFit& line : found) {
    const SteadyLine candidate{line.cycles_per_frame * rate_Hz, scale * std::abs(line.value)};
    const bool known = std::any_of(lines.begin(), lines.end(), [&](const SteadyLine& l) {
      return std::abs(l.frequency_Hz - candidate.frequency_Hz) < 0.5 / duration_s;
    });
    if (!known) lines.push_back(candidate);
  }
  std::sort(lines.begin(), lines.end(),
            [](const SteadyLine& a, const SteadyLine& b) { return a.frequency_Hz < b.frequency_Hz; });
}

SensorTrack sensor_track(const RecordingInfo& info, const Sensor& sensor, const Cells& cells, CellRange range,
                         std::size_t index, const OrderFit& start, const Track& spin, bool fit_disturbances) {
  const MotionUnit scale = sensor_scale(info, sensor);
  const double si = scale.si_per_unit;
  SensorTrack track;
  track.name = sensor.name;
  track.motion = scale.motion;
  track.dc = si * start.dc;
  track.residual_rms = si * std::sqrt(start.mean_square_residual);
  for (std::size_t o = 0; o < cells.orders().size(); ++o) {
    const JointFit fit =
        fit_disturbances ? fit_jointly(cells, range, index, o, start) : plain_fit(cells, range, index, o, start);
    track.orders.push_back(stated_vector(cells.orders()[o], fit, si, sensor, spin));
    collect(track.lines, fit.lines, info.sample_rate_Hz, si, spin.duration_s);
    track.knocks = std::max(track.knocks, runs_below_one(fit.weights));
    if (o == 0) track.slope_per_rad_s = si * fit.slope / spin.speed_rad_s;
  }
  return track;
}

/// Reads the whole recording into cells.
void gather(SpinStream& stream, const TrackOptions& options, double rate_Hz, HealthWatch& health, Cells& cells) {
  TurnSums sums;
  while (const auto turn = stream.next()) {
    if (turn->turn.begin_frame < options.from_s * rate_Hz) continue;
    if (turn->turn.end_frame > options.to_s * rate_Hz) break;
    sum_turn(turn->frames, cells.orders(), sums);
    health.add(*turn, sums, stream);
    cells.add(*turn, sums, padded_channels(turn->frames.stride));
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

}  // namespace

Track track(Recording& recording, const Rig& rig, const TrackOptions& options) {
  const RecordingInfo& info = recording.info();
  std::vector<std::size_t> channels;
  for (const Sensor& sensor : rig.sensors)
    channels.push_back(find_channel(info, sensor.channel, "sensor " + sensor.name));
  Cells cells(checked_orders(options.orders), channels);
  SpinStream stream(recording, rig.tach, channels, options.block_frames);
  HealthWatch health(info, channels);
  gather(stream, options, info.sample_rate_Hz, health, cells);
  const CellRange range = options.find_steady ? steady_range(cells) : CellRange{0, cells.size()};
  if (turns_in(cells, range) < least_turns) throw too_few_turns(stream, info.name, rig.tach, turns_in(cells, range));
  Track result;
  result.file = info.name;
  describe(result, cells, range, info.sample_rate_Hz);
  result.tach = stream.report();
  const std::vector<OrderFit> fits = fit_orders(cells, range);
  for (std::size_t s = 0; s < fits.size(); ++s) {
    result.sensors.push_back(
        sensor_track(info, rig.sensors[s], cells, range, s, fits[s], result, options.fit_disturbances));
  }
  result.warnings = recording.warnings();
  health.report(result);
  return result;
}

}  // namespace counterspot
