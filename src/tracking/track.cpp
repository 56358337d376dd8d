#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "counterspot/error.hpp"
#include "counterspot/tracking.hpp"
#include "tracking/cells.hpp"
#include "tracking/health.hpp"
#include "tracking/order_fit.hpp"
#include "tracking/spin_stream.hpp"

namespace counterspot {
namespace {

constexpr std::int64_t least_turns = 4;
constexpr std::int64_t smoothing_turns = 16;

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

/// (largest − smallest)/mean of the speed, smoothed over 16 turns, or over a quarter of a short spin.
double drift_of(const Cells& cells, CellRange range) {
  std::int64_t turns = 0;
  double frames = 0.0;
  for (std::size_t i = range.begin; i < range.end; ++i) {
    turns += cells.cell(i).turns;
    frames += cells.cell(i).turning_frames;
  }
  const std::int64_t window = std::clamp<std::int64_t>(turns / 4, 1, smoothing_turns);
  double slowest = 1e300;
  double fastest = 0.0;
  std::int64_t held_turns = 0;
  double held_frames = 0.0;
  std::size_t first = range.begin;
  for (std::size_t i = range.begin; i < range.end; ++i) {
    held_turns += cells.cell(i).turns;
    held_frames += cells.cell(i).turning_frames;
    while (held_turns - cells.cell(first).turns >= window) {
      held_turns -= cells.cell(first).turns;
      held_frames -= cells.cell(first).turning_frames;
      ++first;
    }
    if (held_turns < window) continue;
    const double speed = static_cast<double>(held_turns) / held_frames;
    slowest = std::min(slowest, speed);
    fastest = std::max(fastest, speed);
  }
  return (fastest - slowest) / (static_cast<double>(turns) / frames);
}

SensorTrack sensor_track(const RecordingInfo& info, const Sensor& sensor, const OrderFit& fit,
                         const std::vector<int>& orders) {
  const MotionUnit scale = sensor_scale(info, sensor);
  const double si = scale.si_per_unit;
  SensorTrack track{sensor.name, scale.motion, si * fit.dc, si * std::sqrt(fit.mean_square_residual), {}};
  for (std::size_t o = 0; o < orders.size(); ++o) {
    track.orders.push_back({orders[o], si * fit.orders[o], si * si * fit.covariances[o]});
  }
  return track;
}

}  // namespace

Track track(Recording& recording, const Rig& rig, const TrackOptions& options) {
  const RecordingInfo& info = recording.info();
  const std::vector<int> orders = checked_orders(options.orders);
  std::vector<std::size_t> channels;
  for (const Sensor& sensor : rig.sensors)
    channels.push_back(find_channel(info, sensor.channel, "sensor " + sensor.name));
  SpinStream stream(recording, rig.tach, channels, options.block_frames);
  Cells cells(orders, channels);
  HealthWatch health(info, channels);
  TurnSums sums;
  const double rate = info.sample_rate_Hz;
  while (const auto turn = stream.next()) {
    if (turn->turn.begin_frame < options.from_s * rate) continue;
    if (turn->turn.end_frame > options.to_s * rate) break;
    sum_turn(turn->frames, orders, sums);
    health.add(*turn, sums, stream);
    cells.add(*turn, sums, padded_channels(info.channels.size()));
  }
  const CellRange range{0, cells.size()};
  Track result;
  double frames = 0.0;
  for (std::size_t i = range.begin; i < range.end; ++i) {
    result.revolutions += cells.cell(i).turns;
    frames += cells.cell(i).turning_frames;
  }
  if (result.revolutions < least_turns) throw too_few_turns(stream, info.name, rig.tach, result.revolutions);
  result.file = info.name;
  result.speed_rad_s = turn_rad * static_cast<double>(result.revolutions) * rate / frames;
  result.speed_drift_fraction = drift_of(cells, range);
  result.begin_s = cells.cell(range.begin).begin_frame / rate;
  result.duration_s = (cells.cell(range.end - 1).end_frame - cells.cell(range.begin).begin_frame) / rate;
  result.tach = stream.report();
  const std::vector<OrderFit> fits = fit_orders(cells, range);
  for (std::size_t s = 0; s < fits.size(); ++s)
    result.sensors.push_back(sensor_track(info, rig.sensors[s], fits[s], orders));
  result.warnings = recording.warnings();
  health.report(result);
  return result;
}

}  // namespace counterspot
