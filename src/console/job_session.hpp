#pragma once

#include <atomic>
#include <functional>
#include <mutex>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "console/page_words.hpp"
#include "console/recorder.hpp"
#include "counterspot/console/console.hpp"
#include "counterspot/drawing/drawing.hpp"
#include "counterspot/drawing/drawing_shaft.hpp"
#include "counterspot/guide/guide.hpp"
#include "counterspot/guide/rig_guide.hpp"
#include "counterspot/guide/stock_correction.hpp"
#include "counterspot/placement/shop_words.hpp"
#include "counterspot/shaft/beam.hpp"
#include "report/json.hpp"

namespace counterspot {

/// A daily check by knocks, while it is made.
struct KnockCheck {
  std::vector<std::filesystem::path> recorded;  ///< at A, then at B
  bool recording = false;
  std::optional<FoundOrAgain<TapCheck>> found;
};

/// The job side of the console: every query and every command of the page as one JSON document. Everything is said in
/// words and numbers ready to show; the page computes nothing. One mutex around all of it.
class JobSession {
 public:
  /// @param request is told what the rig is wanted for, whenever that changes.
  JobSession(Log log, const ConsoleOptions& options, std::function<void(const SpinRequest&)> request);

  Json now(const Viewer& viewer);
  /// Of the jobs that have the words some, the newest first, from one on, which counts from 0; and whether there are
  /// more.
  Json jobs(const std::string& words, int first, const Viewer& viewer);
  Json history(const std::string& job, const Viewer& viewer);
  Json course(const std::string& job, const Viewer& viewer);  ///< empty name: of the present job
  Json trends(const Viewer& viewer);
  std::string trends_drawn(const Viewer& viewer, Theme theme);  ///< the control chart
  Json health(const RecorderView& live, const Viewer& viewer);
  Json shafts(const Viewer& viewer);
  /// What earlier jobs taught of the rig, and which balancing speed suits the open shaft.
  /// @throws Error(request, "nothing_learnt").
  Json rig_model(const Viewer& viewer);
  std::string rig_model_drawn(const Viewer& viewer, Theme theme);
  /// @param way of the stock; empty: what the step asks for.
  /// @throws Error(request, "not_found") for a plane that nothing is to be done at.
  std::string face(int plane, Base base, const std::string& way, const Viewer& viewer, Theme theme);
  /// This stock from now on, for the present job too.
  void use_stock(const std::filesystem::path& file);
  /// What the stock has for the correction that is asked for. @throws what stock_correction does, and
  /// Error(request, "no_stock").
  Json stock_ways(Base base, const Viewer& viewer);
  /// @throws Error(request, "not_found") while the spins do not tell what they left.
  std::string course_drawn(const std::string& job, const Viewer& viewer, Theme theme);
  std::string sheet(const std::string& job, PictureFormat format, const Viewer& viewer);

  /// Commands. Each carries how many entries the page had seen; if more have come since, it is refused
  /// ("job_moved_on").
  void open(const Json& said);
  void choose(const Json& said);
  /// What the next spin is called; empty: what it is usually called.
  void name_spin(const Json& said);
  void fit(const Json& said);
  void take_back(const Json& said);
  void state_order(const Json& said);  ///< of any job, also a closed one
  void close(const Json& said);
  /// A closed job is open again: its close is taken back, with a reason.
  void reopen(const Json& said);
  /// What a code reader read: the name of a job, or the number of a shaft, whose open job is gone on with; it is opened
  /// if there is none. @throws Error(request, "no_such_code").
  void open_code(const Json& said);
  void practice(const Json& said);
  bool drive() const { return drive_; }  ///< of the simulated rig; takes no mutex
  Json look_at(const std::filesystem::path& recording, const std::string& name,
               const Viewer& viewer);  ///< holds no mutex while it reads
  void add_spin(const std::filesystem::path& recording, const std::string& label, const std::string& job,
                std::optional<int> seen);

  /// How the rig stands, what holds verdicts back, and what work on it there is or may be begun.
  Json rig_page(const Viewer& viewer);
  /// @param work its uid; empty: of all daily checks. @throws Error(request, "not_found").
  std::string rig_work_drawn(const std::string& work, const Viewer& viewer, Theme theme);
  /// Begins work on the rig, which takes the job's place at the page until it ends or is left.
  void begin_rig_work(const Json& said);
  /// What was said to be on the reference shaft is not.
  void masses_are_not_on(const Json& said);
  void go_on_with_rig();
  void leave_rig();
  /// Into the rig's file, and used from then on: what the recalibration at work here, or the last work on the rig,
  /// found.
  void write_sensitivities(const Json& said);
  /// The daily check by knocks, which takes the job's place too.
  void begin_knocks();
  void record_knocks(const Json& said);
  void knocks_cut_off();  ///< the recording was: hands are asked for again

  /// The recorder's recording, made for the job's state of that serial. @throws Error(request, "job_moved_on").
  void add_recorded(std::uint64_t serial, const std::filesystem::path& recording);
  /// The last spin was not taken: the same is wanted again.
  void request_again();

 private:
  /// What was found in the stock for one state of a job, kept while it is looked at: it takes seconds.
  struct Placing {
    std::string job;
    std::size_t entries = 0;
    Base base = Base::as_spun;
    std::shared_ptr<const KnownJob> known;
    std::shared_ptr<const StockCorrection> found;
  };
  const KnownJob* current();
  void settle();
  void read_stock_file();
  void became(Job job);
  Spun measured(const std::filesystem::path& recording);
  void enter(Spun spun, const std::string& label);
  SpinRequest request_of(const KnownJob& known);
  void check_seen(const Json& said);
  KnownJob known_of(const std::string& job);
  void write_practice();
  Json truth(const Viewer& viewer) const;
  Placing placing(Base base);
  Json screen_of(const KnownJob& known, const Viewer& viewer);
  Json rig_screen(const RigWork& work, const Viewer& viewer);
  Json to_be_written(const RigWork& work, const Viewer& viewer) const;
  const RigWork* rig_work();
  void rig_became(RigWork work);
  void show_work(RigWork work);
  SpinRequest request_of(const RigWork& work);
  void check_rig_seen(const Json& said);
  bool masses_are_on(const RigWork& work) const;
  std::vector<FittedWeight> masses_for_spin(const RigWork& work) const;
  void fit_masses(const Json& said);
  void enter_rig_spin(const Spun& spun);
  SpinRequest request_of(const KnockCheck& knocks);
  void ask_for_knocks();
  void ask_again();
  bool enter_knocks(std::uint64_t serial, const std::filesystem::path& recording);
  std::pair<std::string, std::size_t> present();
  Opening rig_opening(const Json& said);
  ClockFace face_of_rig_work(int plane, const Viewer& viewer);

  ConsoleOptions options_;  // never changed
  KeptFile rig_file_;
  Rig rig_;
  std::function<void(const SpinRequest&)> request_;

  std::mutex placing_;           // one search of the stock at a time; taken before mutex_
  std::vector<Placing> placed_;  // by placing_
  std::mutex mutex_;             // all below
  Log log_;
  std::optional<std::string> chosen_;
  std::optional<KnownJob> known_;
  struct {
    std::string job, label;
  } next_name_;                       // of a spin that is yet to be made
  std::optional<RigWork> rig_work_;   // in the job's place
  std::optional<KnockCheck> knocks_;  // likewise
  /// What was said to be on the reference shaft for its next spin. Nobody knows it after a restart: then it is asked
  /// again.
  struct {
    std::string work;
    std::size_t entries = 0;
    std::optional<std::vector<FittedWeight>> unlike_planned;
  } masses_on_;
  std::int64_t rig_records_ = 0;       // with which the present job was analysed
  std::int64_t rig_work_records_ = 0;  // with which the present work on the rig was read
  std::filesystem::path stock_file_;   // empty: none is known
  Said stock_trouble_;                 // why the stock does not go with the present shaft
  std::uint64_t serial_ = 0;
  std::atomic<bool> drive_ = false;
  std::set<std::string> mishaps_;  // of the simulated rig: "loose", "tach", "weight"
};

/// What is said of an entry that was meant for another state of the job: "job_moved_on".
Error job_moved_on();
/// Whether the page had seen as many entries when it sent this; not if it does not say, or says no whole number.
bool has_seen(const Json& said, std::size_t entries);
std::string text_at(const Json& said, const char* key);        ///< @throws Error(request, "bad_request")
std::string file_name_of(std::string text);                    ///< for a file, whatever it is called and however long
std::optional<double> safe_speed_or_none(const Shaft& shaft);  ///< none: of sections that make no beam
std::vector<std::filesystem::path> shaft_files(const std::filesystem::path& folder);

/// One event of the live stream.
Json live_event(const RecorderView& view, const Rig& rig, const Viewer& viewer);

}  // namespace counterspot
