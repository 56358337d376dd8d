#include "counterspot/tracking/spin_inspection.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/tracking/comparison.hpp"
#include "tracking/measured_spin.hpp"

namespace counterspot {

namespace {

/// What asks for something at a sensor or the tach, without its name, which stands before it; a note is no matter of
/// health.
std::string joined_messages(const Warnings& warnings, const std::string& sensor) {
  Warnings of_it;
  for (const Warning& warning : warnings)
    if (warning.sensor == sensor && severity_of(warning.code) != Severity::note) of_it.push_back(warning);
  const std::string before = sensor == "tach" ? "tach: " : "sensor " + sensor + ": ";
  std::string text;
  for (const Warning& warning : gathered(of_it)) {
    const bool named = warning.message.starts_with(before);
    text += (text.empty() ? "" : "; ") + (named ? warning.message.substr(before.size()) : warning.message);
  }
  return text;
}

std::string health_of(const ChannelStatistics& channel, const std::string& messages, bool alive) {
  if (channel.not_finite > 0) {
    return fmt::format("{} samples are not finite numbers, the first at sample {}", channel.not_finite,
                       *channel.first_not_finite + 1);
  }
  if (channel.samples > 0 && channel.min == channel.max) return "dead: the signal never changes";
  return messages.empty() ? "good" : (alive ? "" : "not alive: ") + messages;
}

/// No signal, or no more than an open input shows.
bool is_alive(const std::string& sensor, const Warnings& warnings) {
  return std::none_of(warnings.begin(), warnings.end(), [&](const Warning& warning) {
    return warning.sensor == sensor &&
           (warning.code == WarningCode::dead_channel || warning.code == WarningCode::quiet_channel);
  });
}

SensorHealth health_of(const Sensor& sensor, const SpinInspection& found) {
  const RecordingInfo& info = found.recording->info();
  const MotionUnit scale = sensor_scale(info, sensor);
  const ChannelStatistics& channel =
      found.recording->channels()[find_channel(info, sensor.channel, "sensor " + sensor.name)];
  const double per_unit = std::abs(scale.si_per_unit) / si_per_display_unit(scale.motion);
  return {sensor.name, std::string(display_unit(scale.motion)), channel.rms_about_mean() * per_unit,
          health_of(channel, joined_messages(found.warnings, sensor.name), is_alive(sensor.name, found.warnings))};
}

}  // namespace

std::optional<std::string> SpinInspection::to_look_at() const {
  if (trouble) return trouble->remedy();
  const auto grave =
      std::find_if(warnings.begin(), warnings.end(), [](const Warning& warning) { return holds_back(warning.code); });
  if (grave == warnings.end()) return std::nullopt;
  const std::string where =
      grave->sensor ? (grave->sensor == "tach" ? "tach: " : "sensor " + *grave->sensor + ": ") : "";
  return where + grave->what_to_do();
}

std::string SpinInspection::tach_health() const {
  const auto of_tach = [](const std::string& code) { return code == "impossible_speed" || code == "wrong_direction"; };
  if (trouble && (!track || of_tach(trouble->code()))) return trouble->what();
  const std::string messages = joined_messages(warnings, "tach");
  return messages.empty() ? "good" : messages;
}

SpinInspection inspect_recording(const std::filesystem::path& path, const std::optional<Rig>& rig,
                                 RecordingOptions options, const std::optional<Track>& earlier) {
  if (rig && !options.sample_rate_Hz) options.sample_rate_Hz = rig->sample_rate_Hz;
  if (rig) options.format = rig->format;
  SpinInspection found;
  found.recording = std::make_unique<InspectedRecording>(open_recording(path, options));
  if (rig) {
    try {
      MeasuredSpin measured = measure_spin(*found.recording, *rig);
      found.track = std::move(measured.track);
      found.trouble = measured.refusal;
      if (earlier) {
        const Warnings faults = compare_tracks(*found.track, *earlier);
        found.track->warnings.insert(found.track->warnings.end(), faults.begin(), faults.end());
      }
    } catch (const Error& error) {
      if (error.trouble() != Trouble::recording && error.code() != "no_phase") throw;
      found.trouble = error;
    }
  }
  found.recording->read_to_end();
  found.warnings = found.track ? found.track->warnings : found.recording->warnings();
  if (!rig) {
    found.to_choose = rig_lines_to_choose(found.recording->info());
    return found;
  }
  for (const Sensor& sensor : rig->sensors) found.sensors.push_back(health_of(sensor, found));
  return found;
}

}  // namespace counterspot
