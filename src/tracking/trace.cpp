#include "counterspot/tracking/trace.hpp"

#include <algorithm>
#include <cmath>

#include "counterspot/units/error.hpp"
#include "tracking/spin_stream.hpp"

namespace counterspot {

namespace {

constexpr std::size_t most_samples = 2'000'000;

/// A channel to be shown, and how many shown units one of its samples is.
struct Source {
  std::size_t index = 0;
  double scale = 1.0;
};

void add_sensors(Trace& trace, std::vector<Source>& sources, const RecordingInfo& info, const Rig& rig) {
  for (const Sensor& sensor : rig.sensors) {
    const MotionUnit unit = sensor_scale(info, sensor);
    sources.push_back({find_channel(info, sensor.channel, "sensor " + sensor.name),
                       unit.si_per_unit / si_per_display_unit(unit.motion)});
    trace.channels.push_back({sensor.name, std::string(display_unit(unit.motion)), {}, false});
  }
  const auto tach_channel = find_tach_channel(info, rig.tach);
  if (!tach_channel) return;
  const std::size_t tach = *tach_channel;
  const bool volts = info.full_scale && rig.tach.full_scale_V;
  sources.push_back({tach, volts ? *rig.tach.full_scale_V : 1.0});
  trace.channels.push_back({"tach", volts ? "V" : info.channels[tach].unit, {}, true});
}

}  // namespace

Trace trace_of_turns(Recording& recording, const Rig& rig, int turns) {
  const RecordingInfo& info = recording.info();
  Trace trace{info.name, info.sample_rate_Hz, 0.0, {}, {}};
  std::vector<Source> sources;
  add_sensors(trace, sources, info, rig);
  std::vector<std::size_t> used;
  for (const Source& source : sources) used.push_back(source.index);
  SpinStream stream(recording, rig.tach, used, 4096);
  for (int i = 0; i < turns; ++i) {
    const auto turn = stream.next();
    if (!turn || trace.channels.front().samples.size() + turn->frames.count > most_samples) break;
    if (i > 0 && turn->turn.begin_frame / info.sample_rate_Hz > trace.edges_s.back() + 1e-12) break;  // a gap
    if (i == 0) {
      trace.begin_s = static_cast<double>(turn->first_frame) / info.sample_rate_Hz;
      trace.edges_s.push_back(turn->turn.begin_frame / info.sample_rate_Hz);
    }
    for (std::size_t c = 0; c < sources.size(); ++c)
      for (std::size_t k = 0; k < turn->frames.count; ++k)
        trace.channels[c].samples.push_back(sources[c].scale *
                                            turn->frames.data[k * turn->frames.stride + sources[c].index]);
    trace.edges_s.push_back(turn->turn.end_frame / info.sample_rate_Hz);
  }
  return trace;
}

Trace trace_of_start(Recording& recording, double duration_s) {
  const RecordingInfo& info = recording.info();
  Trace trace{info.name, info.sample_rate_Hz, 0.0, {}, {}};
  std::vector<std::size_t> shown;
  for (std::size_t c = 0; c < info.channels.size(); ++c) {
    if (info.time_channel && static_cast<std::size_t>(*info.time_channel) == c) continue;
    shown.push_back(c);
    trace.channels.push_back(
        {info.channels[c].name, info.full_scale ? "of full scale" : info.channels[c].unit, {}, false});
  }
  const auto wanted = std::min(most_samples, static_cast<std::size_t>(std::max(2.0, duration_s * info.sample_rate_Hz)));
  for (std::size_t taken = 0; taken < wanted;) {
    const auto block = recording.next(wanted - taken);
    if (block.empty()) break;
    const std::size_t frames = block.size() / info.channels.size();
    for (std::size_t c = 0; c < shown.size(); ++c)
      for (std::size_t k = 0; k < frames; ++k)
        trace.channels[c].samples.push_back(block[k * info.channels.size() + shown[c]]);
    taken += frames;
  }
  return trace;
}

}  // namespace counterspot
