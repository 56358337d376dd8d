#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "console/job_session.hpp"
#include "console/replies.hpp"
#include "console/rig_words.hpp"
#include "counterspot/drawing/drawing_job.hpp"
#include "counterspot/drawing/drawing_rig.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/log/rig_log.hpp"
#include "counterspot/rig_setup/setup.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

/// Work on the rig itself, in a job's place at the page: the same requests, refusals and commands.

namespace {

constexpr std::array rig_tasks = {RigTask::qualification, RigTask::check, RigTask::recalibration};

RigTask task_in(const Json& said) {
  const auto task = std::ranges::find(rig_tasks, text_at(said, "task"), rig_task_name);
  if (task != rig_tasks.end()) return *task;
  throw Error(Trouble::request, "bad_request", "there is no such work on a rig", "load the page again");
}

}  // namespace

/// As the log has it now: the command line may have added to it.
const RigWork* JobSession::rig_work() {
  if (!rig_work_) return nullptr;
  const std::int64_t records = log_.rig_record_count(rig_.name);
  if (records == rig_work_records_) return &*rig_work_;
  rig_work_records_ = records;
  for (RigWork& work : rig_works(log_, rig_.name, rig_work_->task)) {
    if (work.uid != rig_work_->uid || work.events.size() == rig_work_->events.size()) continue;
    rig_became(std::move(work));
    break;
  }
  return &*rig_work_;
}

void JobSession::rig_became(RigWork work) {
  rig_work_ = std::move(work);
  ++serial_;
  request_(request_of(*rig_work_));
  write_practice();
}

void JobSession::show_work(RigWork work) {
  knocks_.reset();
  chosen_.reset();
  known_.reset();
  rig_became(std::move(work));
}

bool JobSession::masses_are_on(const RigWork& work) const {
  return masses_on_.work == work.uid && masses_on_.entries == work.events.size();
}

std::vector<FittedWeight> JobSession::masses_for_spin(const RigWork& work) const {
  return masses_on_.unlike_planned.value_or(next_step(work).spin.fitted);
}

/// The shaft has to stand until it is said what is on it; nothing else but that makes a spin wanted.
SpinRequest JobSession::request_of(const RigWork& work) {
  const RigStep step = next_step(work);
  const Shaft shaft = work.shaft();
  const bool on = masses_are_on(work);
  SpinRequest request;
  request.serial = serial_;
  request.spin = step.number > 0 && on;
  request.stand = step.number > 0 && !on;
  request.seconds = options_.spin_s;
  request.safe_rad_s = safe_speed_or_none(shaft);
  const auto speed = step.speed_rad_s ? step.speed_rad_s : options_.first_speed_rad_s;
  request.low_rad_s = speed ? 0.993 * *speed : rad_per_s(200.0);
  request.high_rad_s = speed ? 1.007 * *speed : request.safe_rad_s.value_or(rad_per_s(10000.0));
  request.job = std::make_shared<const LiveJob>(
      LiveJob{work.rig(), shaft, on ? masses_for_spin(work) : std::vector<FittedWeight>(), {}, {}, {}, {}});
  request.file = options_.recordings_folder / fmt::format("{}-{}-{}-{}", file_name_of(rig_.name),
                                                          rig_task_name(work.task), step.number, now_unix_s());
  return request;
}

void JobSession::check_rig_seen(const Json& said) {
  const bool same = said.value("job", "") == rig_work_->uid && has_seen(said, rig_work_->events.size());
  if (!same) throw job_moved_on();
}

void JobSession::fit_masses(const Json& said) {
  check_rig_seen(said);
  if (next_step(*rig_work_).number == 0 || masses_are_on(*rig_work_)) throw job_moved_on();
  masses_on_.unlike_planned.reset();
  if (!said.value("as_asked", false)) {
    std::vector<FittedWeight> masses = hands_before_spin(*rig_work_).stay;
    for (const Json& piece : said.at("pieces"))
      masses.push_back(parse_piece(piece.get<std::string>(), rig_work_->rig(), rig_work_->shaft()));
    if (!said.value("as_typed", false)) refuse_unlike_planned(*rig_work_, masses);
    masses_on_.unlike_planned = std::move(masses);
  }
  masses_on_.work = rig_work_->uid;
  masses_on_.entries = rig_work_->events.size();
  rig_became(*rig_work_);
}

void JobSession::masses_are_not_on(const Json& said) {
  const std::scoped_lock lock(mutex_);
  if (rig_work() == nullptr) throw job_moved_on();
  check_rig_seen(said);
  masses_on_ = {};
  rig_became(*rig_work_);
}

void JobSession::enter_rig_spin(const Spun& spun) {
  if (!masses_are_on(*rig_work_)) throw job_moved_on();
  rig_became(keep_rig_spin(log_, *rig_work_, spun, masses_on_.unlike_planned, options_.program, now_unix_s()));
}

Opening JobSession::rig_opening(const Json& said) {
  Opening opening{rig_file_.path, rig_file_.text, "", "", options_.program, now_unix_s()};
  const std::string file = said.value("file", "");
  const std::string proved = said.value("work", "");
  for (const std::filesystem::path& each : shaft_files(options_.shafts_folder)) {
    if (file.empty() || each.filename() != file) continue;
    const KeptFile shaft = kept_file(each);
    opening.shaft_file = shaft.path;
    opening.shaft_text = shaft.text;
  }
  for (const RigWork& work : rig_works(log_, rig_.name, RigTask::qualification)) {
    if (proved.empty() || work.uid != proved) continue;
    opening.shaft_file = work.shaft_file.path();
    opening.shaft_text = work.shaft_file.text();
  }
  if (opening.shaft_file.empty())
    throw Error(Trouble::request, "not_found", "this shaft is not in the folder any more", "choose another");
  return opening;
}

void JobSession::begin_rig_work(const Json& said) {
  const std::scoped_lock lock(mutex_);
  show_work(open_rig_work(log_, task_in(said), rig_opening(said)));
}

void JobSession::go_on_with_rig() {
  const std::scoped_lock lock(mutex_);
  auto work = newest_rig_work(log_, rig_.name);
  if (!work || !state_of(*work).open) throw job_moved_on();
  show_work(std::move(*work));
}

void JobSession::leave_rig() {
  const std::scoped_lock lock(mutex_);
  if (!rig_work_ && !knocks_) return;
  const std::vector<JobOverview> open = log_.list({"", "", "open", {}, {}}, 0, 1);
  if (!open.empty()) chosen_ = open.front().name;
  settle();
}

Json JobSession::rig_screen(const RigWork& work, const Viewer& viewer) {
  Json screen = words_of(work, request_of(work), masses_are_on(work), viewer);
  screen["to_be_written"] = to_be_written(work, viewer);
  return screen;
}

/// Null: of this work nothing is to be written into the rig's file.
Json JobSession::to_be_written(const RigWork& work, const Viewer& viewer) const {
  const RigWorkState state = state_of(work);
  const auto* found = state.result<Recalibration>();
  if (found == nullptr || !found->sound) return nullptr;
  try {
    return words_of_writing(work, rig_, rig_file_.text, put_right(log_, rig_file_), viewer);
  } catch (const Error& error) {
    return words_of_unwritten(work, error, viewer);
  }
}

void JobSession::write_sensitivities(const Json& said) {
  const std::scoped_lock lock(mutex_);
  const auto newest = newest_rig_work(log_, rig_.name);
  if (!newest || newest->uid != text_at(said, "work")) throw job_moved_on();
  if (kept_file(options_.rig_file).text != rig_file_.text)
    throw Error(Trouble::request, "rig_file_changed", "the rig's file was changed since this program was started",
                "look at what was changed, and start the program again");
  rig_file_.text = write_put_right(log_, options_.rig_file);
  rig_ = read_rig_text(rig_file_.text, rig_file_.path);
  ask_again();
}

Json JobSession::rig_page(const Viewer& viewer) {
  const std::scoped_lock lock(mutex_);
  Json page = words_of(log_, rig_, viewer);
  const auto newest = newest_rig_work(log_, rig_.name);
  const bool open = newest && state_of(*newest).open;
  page["open"] = open ? words_of(*newest, request_of(*newest), false, viewer)["name"] : Json(nullptr);
  page["present"] = rig_work() != nullptr || knocks_;
  page["live"] = !options_.source.empty();
  page["claims"] = rig_.claims.has_value();
  page["to_be_written"] = newest ? to_be_written(*newest, viewer) : Json(nullptr);
  return page;
}

ClockFace JobSession::face_of_rig_work(int plane, const Viewer& viewer) {
  const Shaft shaft = rig_work_->shaft();
  if (plane < 0 || plane >= static_cast<int>(shaft.planes.size()) || next_step(*rig_work_).number == 0)
    throw Error(Trouble::request, "not_found", "there is no such plane", "load the page again");
  const RigHands hands = hands_before_spin(*rig_work_);
  return face_to_fit(rig_work_->rig(), shaft, static_cast<std::size_t>(plane), hands.stay, hands.fit, viewer.units);
}

// ---- the daily check by knocks ----

SpinRequest JobSession::request_of(const KnockCheck& knocks) {
  const bool asked = knocks.recorded.size() < 2;
  SpinRequest request;
  request.serial = serial_;
  request.knocks = asked && knocks.recording;
  request.stand = asked && !knocks.recording;
  request.seconds = instruction_of(SetupStep::knocks_a, {}).seconds;
  request.file = options_.recordings_folder / fmt::format("{}-knocks-{}-{}", file_name_of(rig_.name),
                                                          knocks.recorded.empty() ? "a" : "b", now_unix_s());
  return request;
}

void JobSession::ask_for_knocks() {
  ++serial_;
  request_(request_of(*knocks_));
}

void JobSession::begin_knocks() {
  const std::scoped_lock lock(mutex_);
  if (options_.source.empty())
    throw Error(Trouble::request, "bad_request", "knocks are recorded from a live source, and there is none",
                "load the page again");
  chosen_.reset();
  settle();
  knocks_.emplace();
  ask_for_knocks();
}

void JobSession::record_knocks(const Json& said) {
  const std::scoped_lock lock(mutex_);
  const bool here = knocks_ && !knocks_->recording && knocks_->recorded.size() < 2;
  if (!here || !has_seen(said, knocks_->recorded.size())) throw job_moved_on();
  knocks_->recording = true;
  ask_for_knocks();
}

void JobSession::knocks_cut_off() {
  const std::scoped_lock lock(mutex_);
  if (!knocks_ || !knocks_->recording) return;
  knocks_->recording = false;
  ask_for_knocks();
}

/// False: it is none of knocks. Nothing is kept of knocks that cannot be read.
bool JobSession::enter_knocks(std::uint64_t serial, const std::filesystem::path& recording) {
  const std::scoped_lock lock(mutex_);
  if (!knocks_) return false;
  if (!knocks_->recording || serial != serial_) throw job_moved_on();
  knocks_->recording = false;
  knocks_->recorded.push_back(recording);
  if (knocks_->recorded.size() == 2) {
    try {
      knocks_->found =
          check_by_knocks(log_, rig_, knocks_->recorded[0], knocks_->recorded[1], options_.program, now_unix_s());
    } catch (const Error&) {
      knocks_->recorded.clear();
      ask_for_knocks();
      throw;
    }
  }
  ask_for_knocks();
  return true;
}

namespace {

Error nothing_to_draw() {
  return {Trouble::request, "not_found", "there is nothing of the rig to be drawn yet", "make the spins asked for"};
}

Picture qualification_drawn(const RigWork& work, const Viewer& viewer) {
  const RigWorkState state = state_of(work);
  const auto* result = state.result<Qualification>();
  if (result == nullptr) throw nothing_to_draw();
  std::vector<std::string> planes;
  for (const Plane& plane : work.shaft().planes) planes.push_back(plane.name);
  return qualification_picture(*result, *work.rig().claims, planes, viewer.words());
}

Picture checks_drawn(const Log& log, const std::string& rig, const Viewer& viewer) {
  const std::vector<RigCheck> checks = finished_checks(log, rig);
  if (checks.empty()) throw nothing_to_draw();
  const RigWork newest = rig_works(log, rig, RigTask::check).back();
  return rig_health_picture(checks, newest.rig(), newest.shaft(), viewer.words());
}

}  // namespace

std::string JobSession::rig_work_drawn(const std::string& uid, const Viewer& viewer, Theme theme) {
  PictureOf of;
  of.rig = rig_.name;
  of.as_of = utc_day(now_unix_s());
  of.program = options_.program;
  std::optional<Picture> picture;
  {
    const std::scoped_lock lock(mutex_);
    if (uid.empty()) picture = checks_drawn(log_, rig_.name, viewer);
    for (const RigWork& work : rig_works(log_, rig_.name, RigTask::qualification))
      if (!uid.empty() && work.uid == uid) picture = qualification_drawn(work, viewer);
  }
  if (!picture) throw nothing_to_draw();
  return drawn(titled(*picture, of, viewer.words()), theme);
}

}  // namespace counterspot
