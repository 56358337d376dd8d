#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "counterspot/model/rig.hpp"
#include "counterspot/units/warning.hpp"

namespace counterspot {

/// One channel of a recording.
struct ChannelInfo {
  std::string name;         ///< CSV column name without its unit; "1", "2", … in audio files
  std::string unit;         ///< CSV unit ("g", "V"); empty if none is stated
  std::string header = {};  ///< the CSV column's name as written, with its unit
};

/// One thing that a reader found out about a recording, for people to check.
struct TakenFor {
  std::string what;         ///< "text", "cells", "column 2"
  std::string as;           ///< "UTF-8", "parted by ';'"
  std::string stated = {};  ///< the line under [recording] in the rig file that says so; empty: none does
};

/// A row of values beside the channels and of another length.
struct OtherSeries {
  std::string name;
  std::int64_t values = 0;
};

struct RecordingInfo {
  std::string name;         ///< as in messages: the file as the person named it, or "standard input"
  std::string format;       ///< "WAV, 24-bit", "CSV, ';' separated, decimal comma"
  bool full_scale = false;  ///< true: samples are fractions of full scale (audio files); false: values as written (CSV)
  double sample_rate_Hz = 0.0;
  std::vector<ChannelInfo> channels;      ///< in file order; the CSV time column is a channel too
  std::optional<int> time_channel;        ///< 0-based index of the CSV time column
  std::optional<std::int64_t> frames;     ///< if known before reading (not on a pipe, not for CSV)
  double start_time_s = 0.0;              ///< time of frame 0 (CSV time column); 0 in audio files
  std::vector<TakenFor> taken = {};       ///< CSV; complete when all is read
  bool fits_float = false;                ///< a float holds every sample (audio files of up to 24 bits)
  std::vector<double> edge_times_s = {};  ///< of the tach, where the recording holds these in place of its signal
  bool rate_is_stated = false;            ///< in the options: the recording itself gives none
  std::vector<OtherSeries> others = {};   ///< that were left out
};

/// Is shown bytes of standard input as they are read, in order and each once (perhaps on another thread, which is over
/// when the recording is destroyed).
using ByteWatch = std::function<void(std::span<const char>)>;

struct RecordingOptions {
  std::optional<double> sample_rate_Hz;  ///< for CSV without a time column
  StatedFormat format = {};              ///< what is not to be found out
  std::vector<std::string> named = {};   ///< channels that the rig names: of arrays of several lengths these are meant
  std::string tach = {};                 ///< what the rig calls the tach's channel, if it has a name
  ByteWatch watch_input;                 ///< standard input is then read as a pipe, even if it is a file
  bool read_ahead = true;                ///< decode FLAC and parse CSV on other threads, ahead of what is asked for
};

/// A recording as a stream of blocks. One pass, front to back; memory does not grow with the file.
/// A frame is one sample of every channel. Values are double: fractions of full scale from audio files (1.0 = full
/// scale; a float file may go beyond), the numbers as written from CSV.
class Recording {
 public:
  virtual ~Recording() = default;
  Recording() = default;
  Recording(const Recording&) = delete;
  Recording& operator=(const Recording&) = delete;
  Recording(Recording&&) = delete;
  Recording& operator=(Recording&&) = delete;

  virtual const RecordingInfo& info() const = 0;

  /// Fills `interleaved` (a whole number of frames) with the next frames and returns how many; 0 at the end.
  /// The split into blocks has no meaning: any sequence of sizes gives the same samples.
  /// @throws Error(recording, …) "bad_number" (file, line, column), "ragged_row" (file, line), "uneven_time" (line),
  ///         "short_data" (announced more than one block (4096 frames) more than there is), "unreadable";
  ///         Error(machine, "read_failed").
  virtual std::size_t read(std::span<double> interleaved) = 0;

  /// The same frames, in the same units, as floats; meant for recordings whose samples these hold
  /// (`info().fits_float`), others are rounded. May be mixed with `read`. @return the number of frames; 0 at the end.
  /// Throws as `read`.
  virtual std::size_t read_floats(std::span<float> interleaved);

  /// The next frames in place, interleaved, at least one and at most `most_frames` (> 0) of them; empty at the end.
  /// Good until something is read again. The same samples as `read` gives, without a copy. Throws as `read`.
  virtual std::span<const double> next(std::size_t most_frames);

  /// What was noticed and let pass so far (short_data, uneven_time).
  virtual Warnings warnings() const { return {}; }

 private:
  std::vector<double> block_;  ///< what `next` shows and floats are made of, for readers that have nothing better
};

/// Opens WAV, RF64, W64, AIFF, FLAC (through libsndfile), arrays of numbers (NumPy .npy and .npz, MATLAB .mat, HDF5),
/// by content, or CSV. "-" is standard input.
///
/// Arrays: each of one axis is a channel of its name; of one with two axes the longer is time. A channel may be named
/// by the last part of its name ("DE_time" for "X097_DE_time") if that means one. Values are as written: volts, or in
/// the unit that the file or the rig states.
///
/// A folder: the recordings in it are channels of one, each called like its file ("a.wav": "a"; "a 1", "a 2" where it
/// has several). They must come from one clock: the same rate, and ends within a block of 4096 frames.
///
/// Times that waver by up to 0.6 of a sample interval about even ones are taken as they are: the samples at even times
/// are found between their neighbours, by a polynomial of third degree through four of them.
///
/// CSV: a text in UTF-8, UTF-16 or Latin-1. Its first row is the first line whose cells, parted by tabs, semicolons,
/// commas or blanks, are all numbers, dates or times of day; the decimal sign may be a comma (between commas: in
/// quotes), with points between thousands. Above it may stand names, a row of units, `sep=` and lines of prose; below
/// it a footer. Lines that begin with # or % (or ;, where this parts no cells) and empty lines are passed over. A unit
/// stands behind a column's name in brackets or behind a slash, an underline, a comma or a blank. Time is the column
/// `time`, `time_s` or `t` (any case), or one of another name or unit of time; its spacing gives the rate, by least
/// squares over the first rows. Decimals that the file leaves out do not count as unevenness. What is found out is
/// `info().taken`.
/// @throws Error(recording, …) "not_found", "unreadable", "no_data", "no_sample_rate", "bad_header", "uneven_time",
///         "short_data", "not_increasing" (edge times); Error(request, …) "bad_sample_rate", "bad_encoding",
///         "bad_first_row", "no_such_channel" (stated of a table); Error(machine, "no_reader") with the package that
///         has it; Error(recording, "not_one_clock") for files of a folder.
std::unique_ptr<Recording> open_recording(const std::filesystem::path& path, const RecordingOptions& options = {});

/// What a rig file says of its recordings.
RecordingOptions recording_options(const Rig& rig);

/// What stands on standard input behind a recording that was read from there (a WAV's notes after its samples), for
/// those who watched its bytes. Call it when the recording is destroyed. @throws Error(machine, "read_failed").
void read_rest_of_input(const ByteWatch& watch);

/// 0-based index of a channel. @throws Error(request, "no_such_channel") that lists the channels there are.
std::size_t find_channel(const RecordingInfo& info, const ChannelRef& channel, const std::string& what_for);

/// The channel of the tach's signal; empty if the times of its edges come from elsewhere, or there is no tach.
/// @throws as `find_channel`.
std::optional<std::size_t> find_tach_channel(const RecordingInfo& info, const TachSetup& tach);

/// A column of times from a CSV (edge times of a tach), in seconds, in file order, strictly increasing.
/// The column that open_recording takes for the times, or the first; with `mark` only rows whose column "mark" equals
/// it. Or the one array of a file of arrays, which has one axis.
/// @throws Error(recording, …) as above, "not_increasing".
std::vector<double> read_times(const std::filesystem::path& path, const std::string& mark = "");

/// SI units (or volts, for the tach) per unit of a sample of this sensor's channel, and the kind of motion that
/// results. Audio: full_scale_V / volts_per_si. CSV: the header's unit if it is one of motion, else volts (or mV)
/// through the sensitivity.
/// @throws Error(request, "wrong_unit") if the header's unit is neither motion nor voltage.
MotionUnit sensor_scale(const RecordingInfo& info, const Sensor& sensor);

}  // namespace counterspot
