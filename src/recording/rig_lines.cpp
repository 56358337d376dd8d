#include "recording/rig_lines.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "recording/column_units.hpp"
#include "recording/columns_taken.hpp"

namespace counterspot {

namespace {

/// Whether this is a name, and stands in quotes as it is.
bool is_plain_name(const std::string& name) {
  const auto needs_escape = [](unsigned char c) { return c < 0x20 || c == 0x7f || c == '"' || c == '\\'; };
  return name.find_first_not_of("0123456789") != std::string::npos &&
         std::none_of(name.begin(), name.end(), needs_escape);
}

/// How long the part is that numbers the recording: "X097_" of "X097_DE_time" and "X097_FE_time".
std::size_t numbered_part(const RecordingInfo& info, const std::vector<std::size_t>& channels) {
  std::string common = info.channels[channels[0]].name;
  for (const std::size_t i : channels) {
    const std::string& name = info.channels[i].name;
    common.erase(std::mismatch(common.begin(), common.end(), name.begin(), name.end()).first, common.end());
  }
  common.resize(common.find_last_of("/._ ") + 1);  // none: npos + 1 is 0
  return common.find_first_of("0123456789") == std::string::npos ? 0 : common.size();
}

/// Of a folder each file may have times.
std::vector<std::size_t> all_but_times(const RecordingInfo& info) {
  std::vector<std::size_t> channels;
  for (std::size_t i = 0; i < info.channels.size(); ++i) {
    const bool times = (info.time_channel && i == static_cast<std::size_t>(*info.time_channel)) ||
                       seconds_per(info.channels[i].unit).has_value();
    if (!times) channels.push_back(i);
  }
  return channels;
}

/// By its name, or by its number where the name alone does not mean it. @param without how many letters of the name are
/// left out, if it is known without them.
std::string channel_line(const RecordingInfo& info, std::size_t channel, std::size_t without = 0) {
  const std::string& whole = info.channels[channel].name;
  for (const std::string& name : {whole.substr(without), whole})
    if (is_plain_name(name) && channel_called(info, name) == channel) return fmt::format("channel = \"{}\"", name);
  return fmt::format("channel = {}", channel + 1);
}

}  // namespace

std::string some_channel_line(const RecordingInfo& info) {
  const std::vector<std::size_t> channels = all_but_times(info);
  return channel_line(info, channels.empty() ? 0 : channels[0]);
}

std::vector<RigLine> rig_lines_to_choose(const RecordingInfo& info) {
  std::vector<RigLine> lines;
  if (info.rate_is_stated) lines.push_back({fmt::format("sample_rate = \"{} Hz\"", info.sample_rate_Hz), {"rig"}});
  const std::vector<std::size_t> channels = all_but_times(info);
  if (channels.size() + info.others.size() < 2) return lines;
  const std::size_t without = channels.size() < 2 ? 0 : numbered_part(info, channels);
  for (const std::size_t i : channels) lines.push_back({channel_line(info, i, without), {"sensor", "tach"}});
  for (const OtherSeries& other : info.others) {
    if (!is_plain_name(other.name)) continue;
    lines.push_back({fmt::format("channel = \"{}\"", other.name),
                     {"sensor", "tach"},
                     fmt::format("{} values; as the tach, times of its edges", other.values)});
  }
  return lines;
}

}  // namespace counterspot
