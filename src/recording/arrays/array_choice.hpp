#pragma once

#include <optional>
#include <string>
#include <vector>

#include "counterspot/recording/recording.hpp"
#include "recording/arrays/array_file.hpp"
#include "recording/time_column.hpp"

namespace counterspot {

/// A row of values in a file of arrays: an array of one axis, or a column of one that has two.
struct Series {
  std::size_t array = 0;
  std::size_t column = 0;
  std::size_t columns = 1;  ///< that the array has
  bool one_by_one = true;   ///< its values are neighbours in the file; else the columns of a frame are
};

/// What in a file of arrays is the recording.
struct ArrayChoice {
  std::vector<Series> series;         ///< the channels, in the order of the file; those of one array stand together
  std::vector<ChannelInfo> channels;  ///< of these
  std::size_t frames = 0;
  std::optional<TimeColumn> time;
  std::optional<double> sample_rate_Hz;  ///< that the file states
  std::optional<std::size_t> edges;      ///< the array that holds edge times of the tach
  std::vector<TakenFor> taken;
  std::vector<OtherSeries> others;  ///< left out
};

/// The longer axis of an array of two is time; more than 256 channels, or three axes, are none. The recording has the
/// length of the channels that the rig names; without a rig, the length of most values. Times are found as in a table.
/// A number called fs, dt or the like is the rate. An array of another length that the rig names for the tach holds the
/// times of its edges.
/// @throws Error(recording, "no_data"), as `find_time_column`, and as `state_units`.
ArrayChoice choose_arrays(ArrayFile& file, const std::string& name, const RecordingOptions& options);

}  // namespace counterspot
