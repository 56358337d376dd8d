#pragma once

#include <memory>

#include "counterspot/recording/recording.hpp"
#include "recording/byte_source.hpp"

namespace counterspot {

/// "WAV", "RF64", "W64", "AIFF", "FLAC" by the first bytes; empty if it is none of them.
std::string_view audio_format(std::string_view head);

/// Either of them, by the first bytes.
std::unique_ptr<Recording> open_source(ByteSource source, const RecordingOptions& options);

/// An audio file through libsndfile. Only FLAC is read ahead.
std::unique_ptr<Recording> open_audio(ByteSource source, bool may_read_ahead);

/// A table of numbers.
std::unique_ptr<Recording> open_csv(ByteSource source, const RecordingOptions& options);

/// More missing than this and the recording is refused; less is warned.
inline constexpr std::int64_t tolerated_missing_frames = 4096;

}  // namespace counterspot
