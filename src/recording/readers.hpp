#pragma once

#include <memory>

#include "counterspot/recording/recording.hpp"
#include "recording/arrays/array_formats.hpp"
#include "recording/byte_source.hpp"
#include "recording/even_time.hpp"
#include "recording/time_column.hpp"

namespace counterspot {

/// "WAV", "RF64", "W64", "AIFF", "FLAC" by the first bytes; empty if it is none of them.
std::string_view audio_format(std::string_view head);

/// Either of them, by the first bytes.
std::unique_ptr<Recording> open_source(ByteSource source, const RecordingOptions& options);

/// An audio file through libsndfile. Only FLAC is read ahead.
std::unique_ptr<Recording> open_audio(ByteSource source, bool may_read_ahead);

/// A table of numbers.
std::unique_ptr<Recording> open_csv(ByteSource source, const RecordingOptions& options);

/// Arrays of numbers.
std::unique_ptr<Recording> open_arrays(ByteSource source, ArrayFormat format, const RecordingOptions& options);

/// The recordings in a folder as one.
std::unique_ptr<Recording> open_folder(const std::filesystem::path& folder, const RecordingOptions& options);

/// A recording whose times waver, with its samples at even ones.
std::unique_ptr<Recording> at_even_times(std::unique_ptr<Recording> recording, const TimeColumn& time,
                                         const EvenTime& even);

/// The rate of what has no times: that which the rig states, or else the file.
/// @throws Error(recording, "no_sample_rate"), Error(request, "bad_sample_rate").
double rate_without_times(const RecordingInfo& info, const RecordingOptions& options,
                          std::optional<double> of_file_Hz = {});

/// More missing than this and the recording is refused; less is warned.
inline constexpr std::int64_t tolerated_missing_frames = 4096;

}  // namespace counterspot
