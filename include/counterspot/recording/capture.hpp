#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "counterspot/recording/recording.hpp"

namespace counterspot {

/// How a sample without a header is stored: little-endian, interleaved.
enum class RawFormat { s16le, s24le, s32le, f32le };
/// "s16le", "s24le", "s32le", "f32le". @throws Error(request, "bad_raw_format").
RawFormat raw_format_named(const std::string& name);
std::string_view raw_format_name(RawFormat format);

struct LiveOptions {
  double sample_rate_Hz = 51200.0;    ///< asked of a sound device, stated of raw samples; > 0
  int channels = 3;                   ///< likewise; 1 to 64
  std::optional<RawFormat> format;    ///< of raw samples (else s32le); of a device (else its best)
  double queue_s = 4.0;               ///< how much may wait between the capturing thread and its reader
  double pace = 1.0;                  ///< of `play:`, 1 is real speed
  std::optional<double> csv_rate_Hz;  ///< of CSV without a time column
};

/// Of a rate and a format as typed; empty: as they are. @throws Error(request, …) "bad_quantity", "bad_raw_format".
LiveOptions live_options_of(const std::string& rate, const std::string& format);

/// Samples that were made and never came in.
struct Overrun {
  std::int64_t at_frame = 0;                ///< the frame of the recording before which they are missing
  std::optional<std::int64_t> lost_frames;  ///< empty: nobody knows how many
};

/// What a live source tells besides its samples. All functions may be called from any thread.
class LiveNotes {
 public:
  virtual ~LiveNotes() = default;
  LiveNotes() = default;
  LiveNotes(const LiveNotes&) = delete;
  LiveNotes& operator=(const LiveNotes&) = delete;
  LiveNotes(LiveNotes&&) = delete;
  LiveNotes& operator=(LiveNotes&&) = delete;

  virtual std::vector<Overrun> overruns() const = 0;  ///< of the frames handed to the reader so far; the first 1000
  virtual std::int64_t overrun_count() const = 0;
  virtual std::int64_t frames_captured() const = 0;  ///< by the capturing thread, whether read or waiting
  virtual double waiting_s() const = 0;              ///< of samples that were captured and not read yet
  /// The reader gets what is waiting, then the end, within a tenth of a second also if nothing comes in.
  virtual void stop() = 0;
};

/// A live source: the block reader of every recording, fed by a thread of its own through a bounded queue. `read` and
/// `next` wait for samples and give what there is, at least one frame, at most 20 ms of them; they give 0 only at the
/// end.
///
/// If the reader is too slow and the queue is full, a source that cannot wait (a sound device, `play:`) loses samples:
/// each loss is an Overrun, and `warnings` says so ("overrun"). A pipe waits instead.
class LiveRecording : public Recording, public LiveNotes {};

/// @param source
///   "alsa:NAME"  a sound device through ALSA; its own overruns are reported too. A plain name: a definition in its
///                place, which ALSA would take, can write files and start programs, and is refused ("bad_source");
///   "raw:PATH"   samples without a header from a file, a named pipe (which may come and go) or "-", standard input;
///   "play:FILE"  a recording at real speed;
///   "-" or FILE  WAV or CSV as it comes in (for a WAV from a pipe, the first 64 KiB before anything is seen).
/// @throws Error(request, …) "bad_source", "bad_sample_rate", "bad_channels"; Error(machine, …) "no_device",
/// "device_busy", "device_channels", "device_rate", in ALSA's words or with what it offers; what open_recording throws.
std::unique_ptr<LiveRecording> open_live(const std::string& source, const LiveOptions& options = {});

/// Writes a recording as it comes in. The kind is that of the name's end: .flac (24 bits at most), .w64, .rf64, .wav
/// (RF64 as soon as 4 GiB are passed); .csv for a source whose values have no full scale. Samples of 16, 24 or 32 bits
/// are kept bit for bit (but 32 in FLAC as 24), others as float.
class RecordingWriter {
 public:
  /// Makes the file, which must not be there.
  /// @throws Error(request, …) "bad_recording_name", "file_exists"; Error(machine, "disk").
  RecordingWriter(const std::filesystem::path& path, const RecordingInfo& info);
  RecordingWriter(RecordingWriter&&) noexcept;
  RecordingWriter& operator=(RecordingWriter&&) noexcept;
  ~RecordingWriter();

  /// Whole frames. @throws Error(machine, "disk").
  void write(std::span<const double> interleaved);
  std::int64_t frames() const;
  /// The file is whole and on the disk when this returns. @throws Error(machine, "disk").
  void close();

  struct File;

 private:
  std::unique_ptr<File> file_;
};

}  // namespace counterspot
