#pragma once

#include <chrono>
#include <condition_variable>
#include <cstdint>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "console/page_words.hpp"
#include "console/rig_setup_watch.hpp"
#include "counterspot/console/rig_setup_console.hpp"
#include "counterspot/drawing/drawing.hpp"
#include "counterspot/guide/rig_setup_guide.hpp"

namespace counterspot {

/// What the page of a new rig asks for at this moment.
enum class SetupStage {
  source,     ///< where the samples come from
  stand,      ///< that somebody says all stands: hands are wanted
  hands,      ///< what hands do first
  record,     ///< a recording may begin
  recording,  ///< it runs
  finding,    ///< what it shows is being found
  direction,  ///< where the top goes
  failed,     ///< the proof did not hold
  proved,     ///< the file may be saved
};
const char* setup_stage_name(SetupStage stage);

/// The source, what was told so far, and what it means; every query and command of the page as one JSON document.
class RigSetupSession {
 public:
  explicit RigSetupSession(const RigSetupConsoleOptions& options);
  RigSetupSession(const RigSetupSession&) = delete;
  RigSetupSession& operator=(const RigSetupSession&) = delete;
  RigSetupSession(RigSetupSession&&) = delete;
  RigSetupSession& operator=(RigSetupSession&&) = delete;
  ~RigSetupSession();

  Json now(const Viewer& viewer);
  Json live(const Viewer& viewer);
  void wait(std::uint64_t& news, double seconds);  ///< for something newer, so long at most
  Picture picture(const Viewer& viewer);           ///< @throws Error(request, "not_found") before there is one

  /// Sound devices as they can be used, and pipes; `sound_devices` asks each, which may take a moment.
  Json sources(const Viewer& viewer);

  /// Commands. Those that belong to a step say which, and are refused if the page shows another ("job_moved_on").
  void choose(const Json& said);  ///< the source; after another one every step is asked for anew
  void leave();                   ///< the source, to choose another
  void bring(const Json& said);   ///< a recording of the logger's folder shows the step
  void stands();
  void hands_done(const Json& said);
  void record(const Json& said);
  void enough();  ///< the recording ends here
  void tell(const Json& said);
  void again(const Json& said);
  void without(const Json& said);
  void keep_shop();             ///< rig and source are the shop's from now on, once the file is saved
  void save(const Json& said);  ///< the remarks of the file are in its "language"

 private:
  using Clock = std::chrono::steady_clock;
  /// @param anew whether every step is asked for again where this is another source.
  void listen_to(const std::string& source, const LiveOptions& options, bool anew);
  void stop_listening();
  void look_into(const std::string& source, bool anew);
  bool has_source() const;
  void run(LiveRecording& live);
  void push(std::span<const double> samples);
  void end_recording();
  void find();
  void understand(SetupStanding standing);
  SetupStage stage();
  bool silent() const;
  SetupMotion motion();
  void admit(const Json& said, SetupStage stage);
  void refuse_while_busy() const;
  void news();
  void change_steps(const Json& said, void (*change)(SetupTold&, const std::vector<SetupStep>&));
  Json more_in(const Viewer& viewer) const;

  std::filesystem::path rig_file_;
  std::mutex choosing_;  // taken before the other: one source is opened or left at a time
  std::mutex mutex_;     // of all below
  std::condition_variable changed_;
  std::uint64_t news_ = 0;
  std::uint64_t serial_ = 0;  ///< grows when something else is asked
  SetupTold told_;
  SetupStanding standing_;
  std::unique_ptr<LiveRecording> live_;  // empty: none is chosen; replaced only under both
  std::optional<SetupWatch> watch_;      // of the source
  std::filesystem::path logger_;         // or recordings come from here, and nothing is heard; empty: they do not
  bool seen_to_stand_ = false;           // by somebody, where nothing is heard
  std::string hands_did_;                ///< the words of what hands did, until the drive ran
  bool finding_ = false;
  bool saved_ = false;
  bool shop_kept_ = false;
  Said trouble_;
  Said ended_;  // why the source gives nothing more, for good; empty: it goes on
  Clock::time_point heard_;
  std::vector<double> peaks_, levels_;
  std::int64_t frames_ = 0;  ///< in `peaks_`
  std::optional<RecordingWriter> writer_;
  std::filesystem::path recording_;
  SetupStep recording_step_{};
  double wanted_s_ = 0.0;
  std::int64_t overruns_before_ = 0;
  std::jthread finder_, thread_;  // last: end before what they use
};

}  // namespace counterspot
