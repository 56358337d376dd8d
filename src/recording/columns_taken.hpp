#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "counterspot/recording/recording.hpp"

namespace counterspot {

/// Whether a rig's word means this channel: its name, or what stands behind the last part of it, as "DE_time" does for
/// "X097_DE_time" and "vibration" for "run 3/vibration".
bool names_channel(std::string_view word, std::string_view name);

/// The channel that a rig's word means: by its name, or by the end of it where only one ends so.
std::optional<std::size_t> channel_called(const RecordingInfo& info, const std::string& word);

/// "'time', 'accel'": the columns as messages list them.
std::string names_of(const std::vector<ChannelInfo>& columns);

/// Puts what the rig file states in the place of what the recording says.
/// @throws Error(request, "no_such_channel") for a column that is not there.
void state_units(std::vector<ChannelInfo>& columns, const std::string& name, const StatedFormat& stated);

/// What the numbers of a channel are, for a sensor, and the line under [recording] that states it; nothing states a
/// unit that is not known.
TakenFor values_taken(const std::string& what, const ChannelInfo& column);

}  // namespace counterspot
