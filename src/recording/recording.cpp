#include "counterspot/recording/recording.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>

#include "counterspot/units/error.hpp"
#include "recording/columns_taken.hpp"
#include "recording/readers.hpp"
#include "recording/rig_lines.hpp"

namespace counterspot {

std::span<const double> Recording::next(std::size_t most_frames) {
  constexpr std::size_t frames_at_a_time = 4096;
  std::size_t channels = info().channels.size();
  block_.resize(std::min(most_frames, frames_at_a_time) * channels);
  return {block_.data(), read(block_) * channels};
}

std::size_t Recording::read_floats(std::span<float> interleaved) {
  block_.resize(interleaved.size());
  const std::size_t frames = read(block_);
  std::transform(block_.begin(), block_.begin() + static_cast<std::ptrdiff_t>(frames * info().channels.size()),
                 interleaved.begin(), [](double sample) { return static_cast<float>(sample); });
  return frames;
}

RecordingOptions recording_options(const Rig& rig) {
  RecordingOptions options;
  options.sample_rate_Hz = rig.sample_rate_Hz;
  options.format = rig.format;
  auto name_of = [](const ChannelRef& channel) {
    const auto* name = std::get_if<std::string>(&channel);
    return name == nullptr ? std::string() : *name;
  };
  for (const Sensor& sensor : rig.sensors)
    if (const std::string name = name_of(sensor.channel); !name.empty()) options.named.push_back(name);
  if (rig.tach.channel) {
    const int* number = std::get_if<int>(&*rig.tach.channel);
    options.tach = number == nullptr ? name_of(*rig.tach.channel) : std::to_string(*number);
  }
  const auto& encoder = rig.tach.encoder;
  for (const auto& channel : {rig.tach.speed_channel, encoder ? std::optional(encoder->a) : std::nullopt,
                              encoder ? std::optional(encoder->b) : std::nullopt})
    if (channel && !name_of(*channel).empty()) options.named.push_back(name_of(*channel));
  return options;
}

std::unique_ptr<Recording> open_recording(const std::filesystem::path& path, const RecordingOptions& options) {
  std::error_code unknown;
  if (std::filesystem::is_directory(path, unknown)) return open_folder(path, options);
  return open_source(ByteSource(path, options.watch_input), options);
}

namespace {

bool is_called_like_sound(const std::string& ending) {
  constexpr std::array<std::string_view, 6> endings{".wav", ".rf64", ".w64", ".aif", ".aiff", ".flac"};
  return std::find(endings.begin(), endings.end(), ending) != endings.end();
}

/// What a table may be called is left to people; what is called a sound file and is none gets a word about that, not
/// about the rows and columns that it does not have.
std::unique_ptr<Recording> open_table(ByteSource source, const RecordingOptions& options) {
  const std::string name = source.name();
  const std::string ending = std::filesystem::path(name).extension().string();
  const bool should_be_sound = is_called_like_sound(ending) && !source.head().empty();
  try {
    return open_csv(std::move(source), options);
  } catch (const Error& error) {
    if (!should_be_sound || error.trouble() != Trouble::recording) throw;
    throw Error(Trouble::recording, "unknown_format",
                fmt::format("{} is called {} and does not begin like one; nor is it a table of numbers", name, ending),
                "copy it again from where it was recorded, or name the recording itself");
  }
}

}  // namespace

std::unique_ptr<Recording> open_source(ByteSource source, const RecordingOptions& options) {
  if (!audio_format(source.head()).empty()) return open_audio(std::move(source), options.read_ahead);
  const ArrayFormat arrays = array_format(source.head());
  if (arrays != ArrayFormat::none) return open_arrays(std::move(source), arrays, options);
  return open_table(std::move(source), options);
}

namespace {

std::string listed(const RecordingInfo& info) {
  if (info.full_scale) return fmt::format("it has channels 1 to {}", info.channels.size());
  std::string list;
  for (std::size_t i = 0; i < info.channels.size(); ++i) {
    list += fmt::format("{}{} '{}'", i == 0 ? "" : ", ", i + 1, info.channels[i].name);
  }
  return fmt::format("it has columns {}", list);
}

/// Why a name means no channel, where more can be said than that there is none so called.
std::string why_none(const RecordingInfo& info, const std::string& name) {
  const auto ending_so = std::count_if(info.channels.begin(), info.channels.end(),
                                       [&](const ChannelInfo& channel) { return names_channel(name, channel.name); });
  if (ending_so > 1) return fmt::format(" ({} of its columns end so)", ending_so);
  const auto other = std::find_if(info.taken.begin(), info.taken.end(),
                                  [&](const TakenFor& taken) { return taken.what == fmt::format("'{}'", name); });
  return other == info.taken.end() ? "" : fmt::format(" ({})", other->as);
}

}  // namespace

std::size_t find_channel(const RecordingInfo& info, const ChannelRef& channel, const std::string& what_for) {
  std::size_t count = info.channels.size();
  if (const int* number = std::get_if<int>(&channel)) {
    if (*number >= 1 && static_cast<std::size_t>(*number) <= count) return static_cast<std::size_t>(*number - 1);
  } else {
    const std::string& wanted = std::get<std::string>(channel);
    if (const auto called = channel_called(info, wanted)) return *called;
    // A column that was counted may have a name since then, from a remark above the rows.
    for (std::size_t i = 0; i < count; ++i)
      if (!info.full_scale && std::to_string(i + 1) == wanted) return i;
  }
  const auto* name = std::get_if<std::string>(&channel);
  const std::string wanted =
      name == nullptr ? fmt::format("channel {}", std::get<int>(channel)) : fmt::format("column '{}'", *name);
  const std::string why = name == nullptr ? "" : why_none(info, *name);
  throw Error(
      Trouble::request, "no_such_channel",
      fmt::format("{} has no {}, which the rig file gives for {}{}", info.name, wanted, what_for, why),
      fmt::format("{}; write one of these into the rig file, as in {}, say it with --channels (as in --channels "
                  "A=2,tach=1), or give the recording that belongs to it",
                  listed(info), some_channel_line(info)));
}

double rate_without_times(const RecordingInfo& info, const RecordingOptions& options,
                          std::optional<double> of_file_Hz) {
  const std::optional<double> rate_Hz = options.sample_rate_Hz ? options.sample_rate_Hz : of_file_Hz;
  if (!rate_Hz) {
    throw Error(Trouble::recording, "no_sample_rate", fmt::format("{} has no time column", info.name),
                fmt::format("name the column of times \"time (s)\", or give the rate: --sample-rate \"51.2 kHz\", or "
                            "sample_rate = \"51.2 kHz\" under [rig] of the rig file; if one of the columns {} holds "
                            "times, write time = \"{}\" and time_unit = \"s\" "
                            "under [recording] in the rig file",
                            names_of(info.channels), info.channels[0].name));
  }
  if (!(*rate_Hz > 0.0) || !std::isfinite(*rate_Hz)) {
    throw Error(Trouble::request, "bad_sample_rate", fmt::format("{} Hz is not a sample rate", *rate_Hz),
                "give a rate of more than zero, such as \"51.2 kHz\"");
  }
  return *rate_Hz;
}

std::optional<std::size_t> find_tach_channel(const RecordingInfo& info, const TachSetup& tach) {
  if (!tach.times_file.empty() || !tach.channel || !info.edge_times_s.empty()) return std::nullopt;
  return find_channel(info, *tach.channel, "the tach");
}

MotionUnit sensor_scale(const RecordingInfo& info, const Sensor& sensor) {
  const auto& [motion, volts_per_si] = sensor.sensitivity;
  if (info.full_scale) return {motion, sensor.full_scale_V / volts_per_si};
  const ChannelInfo& column = info.channels[find_channel(info, sensor.channel, "sensor " + sensor.name)];
  if (column.unit.empty()) return {motion, 1.0 / volts_per_si};
  if (auto unit = find_motion_unit(column.unit))
    return {unit->motion, std::copysign(unit->si_per_unit, volts_per_si)};  // its way stays what the rig says
  if (auto volts = find_voltage_unit(column.unit)) return {motion, *volts / volts_per_si};
  if (info.time_channel && &column == &info.channels[static_cast<std::size_t>(*info.time_channel)]) {
    throw Error(
        Trouble::request, "wrong_unit",
        fmt::format("{}: sensor {} is on column '{}', which holds the times", info.name, sensor.name, column.name),
        fmt::format("{}; correct the sensor's channel in the rig file", listed(info)));
  }
  throw Error(Trouble::request, "wrong_unit",
              fmt::format("{}: column '{}' of sensor {} has the unit '{}', which is neither of motion nor of voltage",
                          info.name, column.name, sensor.name, column.unit),
              fmt::format("write units.\"{}\" = \"V\" (or g, m/s2, mm/s, um, mV) under [recording] in the rig file, or "
                          "correct the sensor's channel",
                          column.name));
}

}  // namespace counterspot
