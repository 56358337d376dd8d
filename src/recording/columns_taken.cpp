#include "recording/columns_taken.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "counterspot/units/error.hpp"
#include "counterspot/units/units.hpp"

namespace counterspot {

namespace {

/// What the numbers of a column are, for a sensor.
std::string values_words(const std::string& unit) {
  if (unit.empty()) return "volts: no unit is stated";
  if (unit == "counts") return "counts of a converter, as it seems: no unit is stated";
  if (const auto motion = find_motion_unit(unit)) return fmt::format("{}, in {}", motion_name(motion->motion), unit);
  if (find_voltage_unit(unit)) return fmt::format("voltage, in {}", unit);
  return fmt::format("'{}', which is a unit neither of motion nor of voltage", unit);
}

/// Nothing states a unit that is not known.
std::string unit_line(const ChannelInfo& column) {
  const std::string unit = column.unit.empty() ? "V" : column.unit;
  if (!find_motion_unit(unit) && !find_voltage_unit(unit)) return "";
  return fmt::format("units.\"{}\" = \"{}\"", column.name, unit);
}

}  // namespace

bool names_channel(std::string_view word, std::string_view name) {
  if (word == name) return true;
  if (word.empty() || !name.ends_with(word)) return false;
  constexpr std::string_view between = "/._ ";
  return between.find(name[name.size() - word.size() - 1]) != std::string_view::npos;
}

std::optional<std::size_t> channel_called(const RecordingInfo& info, const std::string& word) {
  const std::vector<ChannelInfo>& channels = info.channels;
  for (std::size_t i = 0; i < channels.size(); ++i)
    if (channels[i].name == word) return i;
  for (std::size_t i = 0; i < channels.size(); ++i)
    if (!channels[i].header.empty() && channels[i].header == word) return i;
  std::optional<std::size_t> ends_so;
  for (std::size_t i = 0; i < channels.size(); ++i) {
    if (!names_channel(word, channels[i].name) && !names_channel(word, channels[i].header)) continue;
    if (ends_so) return std::nullopt;
    ends_so = i;
  }
  return ends_so;
}

std::string names_of(const std::vector<ChannelInfo>& columns) {
  std::string names;
  for (const ChannelInfo& column : columns) names += fmt::format("{}'{}'", names.empty() ? "" : ", ", column.name);
  return names;
}

void state_units(std::vector<ChannelInfo>& columns, const std::string& name, const StatedFormat& stated) {
  for (const auto& [wanted, unit] : stated.units) {
    auto meant = [&wanted = wanted](const ChannelInfo& column) {
      return column.name == wanted || column.header == wanted;
    };
    const auto column = std::find_if(columns.begin(), columns.end(), meant);
    if (column == columns.end()) {
      throw Error(Trouble::request, "no_such_channel",
                  fmt::format("{} has no column '{}', of which the rig file states a unit", name, wanted),
                  "correct units under [recording] in the rig file; 'inspect' lists the columns");
    }
    column->unit = unit;
  }
}

TakenFor values_taken(const std::string& what, const ChannelInfo& column) {
  return {what, values_words(column.unit), unit_line(column)};
}

}  // namespace counterspot
