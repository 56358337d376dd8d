#pragma once

#include <cstdint>
#include <memory>
#include <span>
#include <stop_token>
#include <string>

#include "counterspot/recording/capture.hpp"
#include "recording/byte_source.hpp"

namespace counterspot {

/// What a capturing thread reads from. Used by that thread alone.
class LiveReader {
 public:
  virtual ~LiveReader() = default;
  LiveReader() = default;
  LiveReader(const LiveReader&) = delete;
  LiveReader& operator=(const LiveReader&) = delete;
  LiveReader(LiveReader&&) = delete;
  LiveReader& operator=(LiveReader&&) = delete;

  virtual const RecordingInfo& info() const = 0;
  /// Waits for at least one frame. 0: the end, or asked to stop.
  virtual std::size_t read(std::span<double> interleaved, const std::stop_token& stop) = 0;
  /// The source itself lost samples just before those read last.
  virtual bool lost_some(std::optional<std::int64_t>& /*frames*/) { return false; }
  /// False: samples are made whether they are taken or not.
  virtual bool can_wait() const { return true; }
  virtual Warnings warnings() const { return {}; }
};

std::unique_ptr<LiveReader> open_alsa(const std::string& device, const LiveOptions& options);
std::unique_ptr<LiveReader> open_raw(const std::string& path, const LiveOptions& options);
std::unique_ptr<LiveReader> open_paced(const std::string& file, const LiveOptions& options);
std::unique_ptr<LiveReader> open_as_it_comes(const std::string& file, const LiveOptions& options);

std::size_t bytes_of(RawFormat format);
std::string_view raw_format_words(RawFormat format);  ///< "24-bit"
/// Little-endian samples to fractions of full scale (floats as they are).
void decode_raw(std::span<const char> bytes, RawFormat format, std::span<double> samples);

/// What every source without a header says of itself.
RecordingInfo raw_info(const std::string& name, const std::string& kind, RawFormat format, const LiveOptions& options);

}  // namespace counterspot
