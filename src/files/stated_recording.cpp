#include "files/stated_recording.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <set>
#include <string_view>

#include "counterspot/units/error.hpp"
#include "units/text.hpp"

namespace counterspot {

namespace {

constexpr std::string_view tach_name = "tach";

struct StatedChannel {
  std::string name;  ///< of a sensor, or "tach"
  ChannelRef channel;
};

Error bad_channels(const std::string& trouble) {
  return {Trouble::request, "bad_channels", trouble,
          "write it like --channels A=2,B=3,tach=1, or with a column's name, A=accel_a"};
}

ChannelRef channel_of(std::string_view text) {
  int number = 0;
  const auto [end, trouble] = std::from_chars(text.data(), text.data() + text.size(), number);
  if (trouble != std::errc() || end != text.data() + text.size()) return std::string(text);
  if (number < 1) throw bad_channels(fmt::format("--channels: {} is no channel; they are counted from 1", number));
  return number;
}

StatedChannel item_of(std::string_view item) {
  const std::size_t sign = item.find('=');
  const std::string_view name = trimmed(item.substr(0, sign));
  const std::string_view channel = sign == std::string_view::npos ? "" : trimmed(item.substr(sign + 1));
  if (name.empty() || channel.empty())
    throw bad_channels(trimmed(item).empty()
                           ? "--channels: an item is empty"
                           : fmt::format("--channels: '{}' does not say NAME=CHANNEL", trimmed(item)));
  return {std::string(name), channel_of(channel)};
}

std::vector<StatedChannel> items_of(const std::vector<std::string>& texts) {
  std::vector<StatedChannel> items;
  for (const std::string& text : texts) {
    std::size_t begin = 0;
    for (std::size_t comma = 0; comma != std::string::npos; begin = comma + 1) {
      comma = text.find(',', begin);
      items.push_back(item_of(std::string_view(text).substr(begin, comma - begin)));
    }
  }
  return items;
}

std::string list_of_names(const Rig& rig) {
  std::string names;
  for (const Sensor& sensor : rig.sensors) names += sensor.name + ", ";
  return names + std::string(tach_name);
}

void put_on(Rig& rig, const StatedChannel& item) {
  if (item.name == tach_name) {
    rig.tach.channel = item.channel;
    rig.tach.times_file.clear();
    rig.tach.times_mark.clear();
    return;
  }
  const auto sensor =
      std::find_if(rig.sensors.begin(), rig.sensors.end(), [&](const Sensor& each) { return each.name == item.name; });
  if (sensor == rig.sensors.end()) {
    throw Error(Trouble::request, "no_such_sensor",
                fmt::format("--channels: the rig file has no sensor '{}'", item.name),
                fmt::format("the names are {}", list_of_names(rig)));
  }
  sensor->channel = item.channel;
}

/// A sensor that is left on a channel that was given to another would read the other's signal in silence.
void refuse_shared_channels(const Rig& rig) {
  std::vector<StatedChannel> all;
  for (const Sensor& sensor : rig.sensors) all.push_back({sensor.name, sensor.channel});
  if (rig.tach.channel) all.push_back({std::string(tach_name), *rig.tach.channel});
  for (std::size_t i = 0; i < all.size(); ++i) {
    for (std::size_t k = 0; k < i; ++k) {
      if (all[i].channel != all[k].channel) continue;
      const std::string channel = std::visit([](const auto& ref) { return fmt::format("{}", ref); }, all[i].channel);
      throw Error(
          Trouble::request, "channel_twice",
          fmt::format("--channels: both {} and {} are then on channel {}", all[k].name, all[i].name, channel),
          fmt::format("name the channel of each of them, as in --channels {}=1,{}=2", all[k].name, all[i].name));
    }
  }
}

}  // namespace

double sample_rate_of(const std::string& text) {
  const double rate_Hz = parse_quantity(text, Dimension::frequency);
  if (rate_Hz > 0.0 && std::isfinite(rate_Hz)) return rate_Hz;
  throw Error(Trouble::request, "bad_sample_rate", fmt::format("{} Hz is not a sample rate", rate_Hz),
              "give a rate of more than zero, such as \"51.2 kHz\"");
}

Rig with_stated(Rig rig, const StatedRecording& stated) {
  if (!stated.sample_rate.empty()) {
    rig.sample_rate_Hz = sample_rate_of(stated.sample_rate);
    rig.sample_rate_holds = true;
  }
  if (stated.channels.empty()) return rig;
  std::set<std::string> named;
  for (const StatedChannel& item : items_of(stated.channels)) {
    if (!named.insert(item.name).second) {
      throw Error(Trouble::request, "channel_twice", fmt::format("--channels names '{}' twice", item.name),
                  "name each sensor once");
    }
    put_on(rig, item);
  }
  refuse_shared_channels(rig);
  return rig;
}

}  // namespace counterspot
