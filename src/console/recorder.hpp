#pragma once

#include <atomic>
#include <chrono>
#include <condition_variable>
#include <deque>
#include <filesystem>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "console/live_course.hpp"
#include "console/newest_samples.hpp"
#include "counterspot/guide/live_vectors.hpp"
#include "counterspot/model/rig.hpp"
#include "counterspot/recording/capture.hpp"
#include "counterspot/tracking/live_tracking.hpp"
#include "counterspot/units/said.hpp"

namespace counterspot {

/// What the job wants of the rig now.
struct SpinRequest {
  std::uint64_t serial = 0;  ///< of the job's state this belongs to
  bool spin = false;         ///< a spin is to be made
  bool stand = false;        ///< hands are wanted on the shaft: it has to stand
  bool knocks = false;       ///< knocks on a pedestal are to be recorded, at once, while nothing turns
  double low_rad_s = 0.0;    ///< the speed wanted lies between these
  double high_rad_s = 0.0;
  std::optional<double> safe_rad_s;         ///< never above this
  double seconds = 10.0;                    ///< of recording
  std::filesystem::path file;               ///< the recording to be made, without its extension
  std::shared_ptr<const LiveJob> job = {};  ///< whose shaft turns; null: none
};

enum class Phase { idle, spin_up, hold, too_fast, recording, measuring };
const char* phase_name(Phase phase);

inline constexpr double old_s = 2.0;  ///< what is older is not shown as if it were now

Said live_ended();  ///< that the live source has

/// What the recorder knows; a value.
struct RecorderView {
  using Clock = std::chrono::steady_clock;
  std::string source;       ///< empty: none
  Clock::time_point heard;  ///< when samples came in last
  double waiting_s = 0.0;   ///< how old they were then
  Said trouble;             ///< why there are no live values
  Phase phase = Phase::idle;
  SpinRequest request;
  LiveReading reading;
  std::vector<double>
      levels;  ///< largest of the last fifth of a second, one per sensor and the tach; fraction of full scale
  double recorded_s = 0.0;
  std::int64_t frames_captured = 0;
  std::int64_t overruns = 0;
  Warnings warnings;         ///< of the source
  std::int64_t cut_off = 0;  ///< recordings begun anew because the speed left the band or samples were lost
  std::uint64_t news = 0;    ///< grows with every change

  double age_s(Clock::time_point now) const { return waiting_s + std::chrono::duration<double>(now - heard).count(); }
};

/// A recording that has ended, not yet on the disk.
struct SpinFile {
  SpinRequest request;
  RecordingWriter writer;
  std::filesystem::path part;  ///< what it is called until then
  bool whole = false;          ///< else it was cut off
};
/// Puts it on the disk under its name: that of the request, or "….cut-N" of one that was cut off. Waits for the disk.
/// One that was cut off before its first sample is none: the path is empty. Nothing is written over.
/// @throws Error(machine, "disk").
std::filesystem::path finish(SpinFile& spin);

/// The live side of the console: follows the rig, and records a spin by itself once the speed that is asked for is
/// steady: for 2 s within the band and within 0.5 % of itself. What fails on its thread is said in the view, and the
/// source is followed on while samples come.
class Recorder {
 public:
  using Recorded = std::function<void(SpinFile)>;
  /// @param recorded is called on the recorder's thread with a recording that has ended, and must not wait.
  Recorder(const std::string& source, const LiveOptions& options, Rig rig, Recorded recorded);
  Recorder(const Recorder&) = delete;
  Recorder& operator=(const Recorder&) = delete;
  Recorder(Recorder&&) = delete;
  Recorder& operator=(Recorder&&) = delete;
  ~Recorder();

  void stop();  ///< no more is followed or recorded when this returns; spins may still be asked for
  void request(const SpinRequest& request);
  void enough();  ///< the knocks that are being recorded were all
  /// Somebody sees that the shaft stands. @throws Error(request, "may_turn") if tach or sensors speak against it.
  void confirm_standing();
  /// Before hands are sent to it. @throws Error(request, "may_turn") unless it is seen now that the shaft stands.
  void refuse_unless_standing() const;
  RecorderView view() const;
  /// Waits until there is something newer than `news`, or for so long.
  RecorderView wait_for_news(std::uint64_t news, double seconds) const;
  const LiveCourse& course() const { return course_; }
  const NewestSamples& newest() const { return newest_; }

 private:
  class WatchedRecording;
  void run();
  bool follow_on();
  void say(const Said& trouble);
  void push(std::span<const double> samples);
  void watch(const LiveReading& reading);
  void read_as(const Rig& rig);
  bool steady(const SpinRequest& request) const;
  void begin_recording(const SpinRequest& request);
  void write(std::span<const double> samples);
  void give_up();
  void hand_over(bool whole);
  void tell(const std::function<void(RecorderView&)>& change);

  Rig rig_;
  Recorded recorded_;
  std::unique_ptr<LiveRecording> live_;
  LiveCourse course_;
  NewestSamples newest_;
  std::atomic<bool> confirmed_ = false;    // and not yet told to the watch
  std::atomic<std::uint64_t> enough_ = 0;  // of the request of this serial

  // Of the recorder's thread alone.
  std::optional<ShaftWatch> shaft_;
  std::int64_t frames_taken_ = 0;
  bool failed_ = false;  // and was begun anew: the trouble is said until turns come again
  struct Speed {
    double at_s, rad_s;
  };
  std::deque<Speed> speeds_;
  std::optional<RecordingWriter> writer_;
  std::filesystem::path part_;
  SpinRequest recording_request_;
  std::int64_t overruns_before_ = 0;
  std::vector<double> peaks_;
  std::vector<std::size_t> shown_channels_;
  std::int64_t frames_since_levels_ = 0;
  std::uint64_t done_serial_ = 0;  // a spin was made for this state of the job

  mutable std::mutex mutex_;  // of the view
  mutable std::condition_variable changed_;
  RecorderView view_;
  std::jthread thread_;  // last: ends before what it uses
};

}  // namespace counterspot
