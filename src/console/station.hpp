#pragma once

#include <condition_variable>
#include <deque>
#include <filesystem>
#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "counterspot/capture.hpp"
#include "counterspot/live_tracking.hpp"
#include "counterspot/rig.hpp"

namespace counterspot {

/// What the job wants of the rig now.
struct Wish {
  std::uint64_t serial = 0;  ///< of the job's state this belongs to
  bool spin = false;         ///< a spin is to be made
  bool stand = false;        ///< hands are wanted on the shaft: it has to stand
  double low_rad_s = 0.0;    ///< the speed wanted lies between these
  double high_rad_s = 0.0;
  std::optional<double> safe_rad_s;  ///< never above this
  double seconds = 10.0;             ///< of recording
  std::filesystem::path file;        ///< the recording to be made, without its extension
};

enum class Phase { idle, spin_up, hold, too_fast, recording, measuring };
const char* phase_name(Phase phase);

/// What the station knows; a value.
struct StationView {
  std::string source;   ///< empty: none
  std::string trouble;  ///< why there are no live values
  Phase phase = Phase::idle;
  Wish wish;
  LiveReading reading;
  std::vector<double>
      levels;  ///< largest of the last fifth of a second, one a sensor and the tach; fraction of full scale
  double recorded_s = 0.0;
  std::int64_t frames_captured = 0;
  std::int64_t overruns = 0;
  Warnings warnings;         ///< of the source
  std::int64_t cut_off = 0;  ///< recordings begun anew because the speed left the band or samples were lost
  std::uint64_t news = 0;    ///< grows with every change
};

/// A recording that has ended, not yet on the disk.
struct SpinFile {
  Wish wish;
  RecordingWriter writer;
  std::filesystem::path part;  ///< what it is called until then
  bool whole = false;          ///< else it was cut off
};
/// Puts it on the disk under its name: that of the wish, or "….cut-N" of one that was cut off. Waits for the disk. One
/// that was cut off before its first sample is none: the path is empty.
/// @throws Error(machine, "disk"), std::filesystem::filesystem_error.
std::filesystem::path finish(SpinFile& spin);

/// The live side of the console: follows the rig, and records a spin by itself once the speed that is wished for is
/// steady: for 2 s within the band and within 0.5 % of itself.
class Station {
 public:
  using Recorded = std::function<void(SpinFile)>;
  /// @param recorded is called on the station's thread with a recording that has ended, and must not wait.
  Station(const std::string& source, const LiveOptions& options, Rig rig, Recorded recorded);
  Station(const Station&) = delete;
  Station& operator=(const Station&) = delete;
  Station(Station&&) = delete;
  Station& operator=(Station&&) = delete;
  ~Station();

  void stop();  ///< no more is followed or recorded when this returns; wishes may still be said
  void wish(const Wish& wish);
  StationView view() const;
  /// Waits until there is something newer than `news`, or for so long.
  StationView wait_for_news(std::uint64_t news, double seconds) const;

 private:
  class Tee;
  void run();
  void take(std::span<const double> samples);
  void watch(const LiveReading& reading);
  bool steady(const Wish& wish) const;
  void begin_recording(const Wish& wish);
  void write(std::span<const double> samples);
  void give_up();
  void hand_over(bool whole);
  void tell(const std::function<void(StationView&)>& change);

  Rig rig_;
  Recorded recorded_;
  std::unique_ptr<LiveRecording> live_;

  // Of the station's thread alone.
  struct Speed {
    double at_s, rad_s;
  };
  std::deque<Speed> speeds_;
  std::optional<RecordingWriter> writer_;
  std::filesystem::path part_;
  Wish recording_wish_;
  std::int64_t overruns_before_ = 0;
  std::vector<double> peaks_;
  std::vector<std::size_t> shown_channels_;
  std::int64_t frames_since_levels_ = 0;
  std::uint64_t done_serial_ = 0;  // a spin was made for this state of the job

  mutable std::mutex mutex_;  // of the view
  mutable std::condition_variable changed_;
  StationView view_;
  std::jthread thread_;  // last: ends before what it uses
};

}  // namespace counterspot
