#include "console/job_session.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <fstream>

#include "console/replies.hpp"
#include "console/rig_words.hpp"
#include "console/stock_words.hpp"
#include "console/words.hpp"
#include "counterspot/drawing/drawing_charts.hpp"
#include "counterspot/drawing/drawing_job.hpp"
#include "counterspot/drawing/drawing_rig.hpp"
#include "counterspot/drawing/drawing_tap.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/files/new_files.hpp"
#include "counterspot/files/shaft_copy.hpp"
#include "counterspot/guide/taken_off.hpp"
#include "counterspot/learning/rig_teaching.hpp"
#include "counterspot/log/quality.hpp"
#include "counterspot/sheet/sheet.hpp"
#include "counterspot/tolerance/held_text.hpp"
#include "counterspot/units/error.hpp"
#include "report/documents.hpp"
#include "report/rig_model.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

namespace fs = std::filesystem;

}  // namespace

/// File systems take 255 bytes, and more comes behind it.
std::string file_name_of(std::string text) {
  text.resize(std::min<std::size_t>(text.size(), 100));
  for (char& c : text) {
    const bool plain = (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || c == '-';
    if (!plain) c = '-';
  }
  return text;
}

bool has_seen(const Json& said, std::size_t entries) {
  const auto seen = said.find("entries");
  return seen != said.end() && seen->is_number_integer() && seen->get<std::size_t>() == entries;
}

std::string text_at(const Json& said, const char* key) {
  const auto found = said.find(key);
  if (found == said.end() || !found->is_string()) {
    throw Error(Trouble::request, "bad_request", fmt::format("the request has no text '{}'", key),
                "load the page again");
  }
  return found->get<std::string>();
}

/// What is offered as shafts: name and path of every *.toml in the folder.
std::vector<fs::path> shaft_files(const fs::path& folder) {
  std::vector<fs::path> files;
  std::error_code trouble;
  if (folder.empty()) return files;
  for (const fs::directory_entry& entry : fs::directory_iterator(folder, trouble))
    if (entry.path().extension() == ".toml") files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  return files;
}

std::optional<double> safe_speed_or_none(const Shaft& shaft) {
  try {
    return safe_speed_rad_s(shaft);
  } catch (const Error&) {  // sections that make no beam: the job says so
    return std::nullopt;
  }
}

namespace {

/// What was typed of the order, without what stands before and behind it.
WorkOrder order_in(const Json& said) {
  WorkOrder order;
  const auto typed = said.find("order");
  if (typed == said.end()) return order;
  for (const auto& [key, value] : work_order_fields()) {
    const auto text = typed->value(key, std::string());
    const auto from = text.find_first_not_of(' ');
    if (from != std::string::npos) order.*value = text.substr(from, text.find_last_not_of(' ') - from + 1);
  }
  return order;
}

std::string name_in(const Json& said, const char* key) {
  constexpr std::size_t longest = 200;
  const std::string typed = text_at(said, key);
  const auto from = typed.find_first_not_of(' ');
  if (from == std::string::npos) return "";
  const std::string name = typed.substr(from, typed.find_last_not_of(' ') - from + 1);
  if (name.size() <= longest && is_one_line(name)) return name;
  throw Error(Trouble::request, "bad_name", "this name is too long, or holds a control character",
              "write it with letters, digits and marks that can be seen");
}

/// Of a copy, which must have one.
std::string id_in(const Json& said) {
  std::string id = name_in(said, "copy_id");
  if (id.empty())
    throw Error(Trouble::request, "missing_key", "the copy has no number", "type the number that stands on the shaft");
  return id;
}

/// Null: it is no shaft, but a rig, a stock, a list of spins. A shaft that cannot be read is listed with its fault.
Json shaft_line(const fs::path& file, const Viewer& viewer) {
  try {
    const Shaft shaft = read_shaft(file);
    return {{"file", file.filename().string()}, {"id", shaft.id}, {"words", family_of(shaft)}, {"fault", nullptr}};
  } catch (const Error& error) {
    if (kept_file(file).text.find("[shaft]") == std::string::npos) return nullptr;
    return {{"file", file.filename().string()},
            {"id", nullptr},
            {"words", nullptr},
            {"fault", sentence_of(error).in(viewer.words().language)}};
  }
}

/// −1: it cannot be gone on with.
std::int64_t last_touched(const Log& log, const JobOverview& line) {
  try {
    const Job job = log.job(line.name);
    return job.events.empty() ? job.opened_unix_s : job.events.back().at_unix_s;
  } catch (const Error&) {
    return -1;
  }
}

// A spin lasts seconds; what is longer is not a spin, and would keep the next upload waiting.
constexpr double longest_upload_s = 1200.0;
constexpr double most_upload_samples = 1 << 29;  // twenty minutes of eight channels at 51.2 kHz

/// Packed, hours take a few bytes: so this looks before anything is measured. Where a FLAC does not say how long it is,
/// it is counted, up to the limit.
void refuse_what_is_long(const fs::path& file, const std::string& name, const RecordingOptions& options) {
  const auto recording = open_recording(file, options);
  const RecordingInfo& info = recording->info();
  const auto channels = static_cast<double>(info.channels.size());
  const double most = std::min(longest_upload_s * info.sample_rate_Hz, most_upload_samples / channels);
  auto frames = static_cast<double>(info.frames.value_or(0));
  try {
    while (!info.frames && info.full_scale && frames <= most) {
      const auto part = recording->next(4096);
      if (part.empty()) break;
      frames += static_cast<double>(part.size()) / channels;
    }
  } catch (const Error&) {  // damaged behind what was counted: whoever measures it says so
    return;
  }
  if (frames <= most) return;
  throw Error(Trouble::recording, "too_long",
              fmt::format("{} is longer than {:.0f} min of {:.0f} channels at {} Hz, the most that the page takes",
                          name, most / info.sample_rate_Hz / 60.0, channels, info.sample_rate_Hz),
              "cut the spin out of it, or use 'counterspot job spin FILE'");
}

}  // namespace

namespace {

Error moved_on_while_measured() {
  return {Trouble::request, "job_moved_on", "the job went on while this spin was measured",
          "look at what is asked now"};
}

}  // namespace

Error job_moved_on() {
  return {Trouble::request, "job_moved_on", "the job went on meanwhile, here or at another screen",
          "look at what is asked now"};
}

JobSession::JobSession(Log log, const ConsoleOptions& options, std::function<void(const SpinRequest&)> request)
    : options_(options),
      rig_file_(kept_file(options.rig_file)),
      rig_(read_rig(options.rig_file)),
      request_(std::move(request)),
      log_(std::move(log)),
      stock_file_(options.stock_file) {
  // After a restart the work goes on with the open job that was worked on last; one that cannot be gone on with is
  // shown, with what is wrong, only if there is no other.
  std::int64_t newest = -1;
  for (const JobOverview& line : log_.list({"", "", "open", {}, {}})) {
    const std::int64_t touched = last_touched(log_, line);
    if (touched <= newest && chosen_) continue;
    newest = touched;
    chosen_ = line.name;
  }
  try {
    auto work = newest_rig_work(log_, rig_.name);
    const bool open = work && state_of(*work).open;
    const std::int64_t touched = !open                  ? -1
                                 : work->events.empty() ? work->opened_unix_s
                                                        : work->events.back().at_unix_s;
    if (open && touched >= newest) {
      show_work(std::move(*work));
    } else {
      settle();
    }
  } catch (const Error&) {  // NOLINT(bugprone-empty-catch): it is said when the page asks, which can choose another job
  }
}

const KnownJob* JobSession::current() {
  if (!chosen_) return nullptr;
  // The command line may have added to the job meanwhile, or a check of the rig failed there.
  Job job = log_.job(*chosen_);
  const bool grown = !known_ || known_->job.name != job.name || known_->job.events.size() != job.events.size();
  if (grown || log_.rig_record_count(rig_.name) != rig_records_) became(std::move(job));
  return &*known_;
}

void JobSession::became(Job job) {
  rig_records_ = log_.rig_record_count(rig_.name);
  known_ = known_job(log_, std::move(job));
  read_stock_file();
  ++serial_;
  request_(request_of(*known_));
}

/// For the present shaft, whose planes its rules are of.
void JobSession::read_stock_file() {
  stock_trouble_ = {};
  known_->stock.reset();
  if (stock_file_.empty()) return;
  try {
    known_->stock = read_stock(stock_file_, known_->job.shaft());
  } catch (const Error& error) {
    stock_trouble_ = sentence_of(error);
  }
}

void JobSession::use_stock(const fs::path& file) {
  const std::scoped_lock one_at_a_time(placing_);
  placed_.clear();
  const std::scoped_lock lock(mutex_);
  stock_file_ = file;
  if (known_) read_stock_file();
}

void JobSession::settle() {
  rig_work_.reset();
  knocks_.reset();
  known_.reset();
  ++serial_;
  if (current() == nullptr) {
    SpinRequest nothing;
    nothing.serial = serial_;
    request_(nothing);
  }
  write_practice();
}

SpinRequest JobSession::request_of(const KnownJob& known) {
  const NextStep step = known.next();
  const StepKind kind = step.kind;
  SpinRequest request;
  request.serial = serial_;
  request.spin = kind == StepKind::spin || kind == StepKind::spin_as_found || kind == StepKind::spin_again;
  request.stand = !request.spin && kind != StepKind::nothing;
  request.seconds = kind == StepKind::spin_again ? 2.0 * options_.spin_s : options_.spin_s;
  request.safe_rad_s = safe_speed_or_none(known.job.shaft());
  const JobState state = state_of(known.job.events);
  std::optional<double> speed = options_.first_speed_rad_s;
  if (!state.spins.empty() && state.spins.front().spun.speed_rad_s) speed = state.spins.front().spun.speed_rad_s;
  if (step.speed_rad_s) speed = step.speed_rad_s;
  request.low_rad_s = speed ? 0.993 * *speed : rad_per_s(200.0);
  request.high_rad_s = speed ? 1.007 * *speed : request.safe_rad_s.value_or(rad_per_s(10000.0));
  request.job = std::make_shared<const LiveJob>(live_job(known));
  request.file = options_.recordings_folder /
                 fmt::format("{}-{}-{}", file_name_of(known.job.name), known.job.events.size() + 1, now_unix_s());
  return request;
}

void JobSession::check_seen(const Json& said) {
  const KnownJob* known = current();
  const bool same =
      known != nullptr && has_seen(said, known->job.events.size()) && text_at(said, "job") == known->job.name;
  if (!same) throw job_moved_on();
}

void JobSession::open(const Json& said) {
  const std::scoped_lock lock(mutex_);
  Opening opening{rig_file_.path, rig_file_.text, "", "", options_.program, now_unix_s()};
  if (said.contains("shaft_of")) {
    const Job earlier = log_.job(text_at(said, "shaft_of"));
    opening.shaft_file = earlier.shaft_file.path();
    opening.shaft_text = earlier.shaft_file.text();
  } else if (said.contains("file")) {
    const std::string name = text_at(said, "file");
    for (const fs::path& file : shaft_files(options_.shafts_folder)) {
      if (file.filename() != name) continue;
      const KeptFile shaft = kept_file(file);
      opening.shaft_file = shaft.path;
      opening.shaft_text = shaft.text;
    }
    if (opening.shaft_file.empty())
      throw Error(Trouble::request, "not_found", "this shaft is not in the folder any more", "choose another");
  } else {
    opening.shaft_text =
        new_shaft_text(said.value("id", std::string()),
                       shaft_answers([&](const std::string& key) { return said.value(key, std::string()); }));
    opening.shaft_file = "typed at the rig";
  }
  if (said.contains("copy_id")) {
    opening.shaft_text = copied_shaft(opening.shaft_text, opening.shaft_file, id_in(said));
    opening.shaft_file = "copied at the rig from " + opening.shaft_file;
  }
  opening.shaft_text = with_work_order(opening.shaft_text, opening.shaft_file, order_in(said));
  read_shaft_text(opening.shaft_text, opening.shaft_file);
  chosen_ = log_.open_job(opening).name;
  settle();
}

void JobSession::choose(const Json& said) {
  const std::scoped_lock lock(mutex_);
  chosen_ = log_.job(text_at(said, "job")).name;
  settle();
}

void JobSession::name_spin(const Json& said) {
  const std::scoped_lock lock(mutex_);
  check_seen(said);
  next_name_ = {known_->job.name, name_in(said, "label")};
}

void JobSession::fit(const Json& said) {
  const std::scoped_lock lock(mutex_);
  if (rig_work() != nullptr) return fit_masses(said);
  check_seen(said);
  const Shaft shaft = known_->job.shaft();
  const JobState state = state_of(known_->job.events);
  StatedFit stated{state.on_shaft, said.value("as_typed", false), said.value("was_on", false)};
  stated.on_shaft = without_numbers(stated.on_shaft, said.value("off", std::vector<int>()));
  if (said.value("bare", false)) stated.on_shaft = with_trials_off(state, known_->next());
  if (said.value("all", false)) stated.on_shaft.clear();
  const auto list = said.find("pieces");
  if (list == said.end() || !list->is_array())
    throw Error(Trouble::request, "bad_request", "the request lists no pieces", "load the page again");
  for (const Json& piece : *list)
    stated.on_shaft.push_back(parse_piece(piece.is_string() ? piece.get<std::string>() : "", rig_, shaft));
  became(keep_fit(log_, *known_, stated, options_.program, now_unix_s()));
  write_practice();
}

void JobSession::take_back(const Json& said) {
  const std::scoped_lock lock(mutex_);
  if (rig_work() != nullptr) {
    check_rig_seen(said);
    return rig_became(take_back_rig_spin(log_, *rig_work_, text_at(said, "reason"), options_.program, now_unix_s()));
  }
  check_seen(said);
  const TakenBack back{said.value("number", 0), text_at(said, "reason")};
  became(log_.append(known_->job, back, options_.program, now_unix_s()));
  write_practice();
}

void JobSession::state_order(const Json& said) {
  const std::scoped_lock lock(mutex_);
  const Job job = log_.job(text_at(said, "job"));
  if (!has_seen(said, job.events.size())) throw job_moved_on();
  log_.append(job, Ordered{order_in(said)}, options_.program, now_unix_s());
}

void JobSession::close(const Json& said) {
  const std::scoped_lock lock(mutex_);
  if (rig_work() != nullptr) {
    check_rig_seen(said);
    const RigClosed closed{said.value("reason", ""), {}};
    return rig_became(append(log_, *rig_work_, {closed}, options_.program, now_unix_s()));
  }
  check_seen(said);
  const Closed closed = closing_of(*known_, said.value("reason", ""));
  became(log_.append(known_->job, closed, options_.program, now_unix_s()));
  if (options_.key) became(sign_job(log_, known_->job, *options_.key, options_.program, now_unix_s()));
  write_practice();
}

/// Nobody waits for the session while a recording is read.
Spun JobSession::measured(const fs::path& recording) {
  std::optional<Shaft> shaft;
  Rig rig;
  {
    const std::scoped_lock lock(mutex_);
    if (const RigWork* work = rig_work()) {
      rig = work->rig();
      shaft = work->shaft();
    } else if (const KnownJob* known = current()) {
      rig = known->job.rig();  // as all its spins: the rig's file may say something else by now
      shaft = known->job.shaft();
    }
  }
  if (!shaft) throw Error(Trouble::request, "no_such_job", "no job is open", "open a shaft first");
  return measured_spin(recording, rig, *shaft);
}

void JobSession::add_spin(const fs::path& recording, const std::string& label, const std::string& job,
                          std::optional<int> seen) {
  Spun spun = measured(recording);
  const std::scoped_lock lock(mutex_);
  const auto [name, entries] = present();
  if (name.empty() || name != job || (seen && *seen != static_cast<int>(entries))) throw moved_on_while_measured();
  enter(std::move(spun), label);
}

void JobSession::add_recorded(std::uint64_t serial, const fs::path& recording) {
  if (enter_knocks(serial, recording)) return;
  Spun spun = measured(recording);
  const std::scoped_lock lock(mutex_);
  if (present().first.empty() || serial_ != serial) throw moved_on_while_measured();
  enter(std::move(spun), "");
}

/// Name and entries of what is at work at the page; no name: nothing.
std::pair<std::string, std::size_t> JobSession::present() {
  if (const RigWork* work = rig_work()) return {work->uid, work->events.size()};
  if (const KnownJob* known = current()) return {known->job.name, known->job.events.size()};
  return {};
}

void JobSession::enter(Spun spun, const std::string& label) {
  if (rig_work_) return enter_rig_spin(spun);
  const bool named = label.empty() && next_name_.job == known_->job.name && !next_name_.label.empty();
  spun.label = named ? next_name_.label : label.empty() ? usual_label(known_->job) : label;
  next_name_ = {};
  became(keep_spin(log_, known_->job, std::move(spun), options_.program, now_unix_s()));
}

void JobSession::request_again() {
  const std::scoped_lock lock(mutex_);
  ask_again();
}

void JobSession::ask_again() {
  ++serial_;
  if (knocks_) {
    ask_for_knocks();
  } else if (rig_work_) {
    request_(request_of(*rig_work_));
  } else if (known_) {
    request_(request_of(*known_));
  }
}

void JobSession::practice(const Json& said) {
  const std::scoped_lock lock(mutex_);
  drive_ = said.value("drive", drive_.load());
  if (said.contains("mishap")) {
    const std::string mishap = text_at(said, "mishap");
    if (said.value("on", false)) {
      mishaps_.insert(mishap);
    } else {
      mishaps_.erase(mishap);
    }
  }
  write_practice();
}

/// What the simulated shaft really has left, once the job is closed: before, it would be told what is to be found out.
Json JobSession::truth(const Viewer& viewer) const {
  Json lines = Json::array();
  if (options_.practice_control.empty() || !known_ || known_->next().kind != StepKind::nothing) return lines;
  std::ifstream kept(options_.practice_control.string() + ".truth");
  std::string plane;
  for (double left_kg_m = 0.0; kept >> plane >> left_kg_m;)
    lines.push_back(viewer.texts("truth_of_plane", plane, viewer.number(unbalance_in(viewer.units, left_kg_m), 1),
                                 std::string(unbalance_unit(viewer.units))));
  return lines;
}

/// What the simulated rig is to do, in its own words; replaced as a whole, so that it never reads half of it.
void JobSession::write_practice() {
  if (options_.practice_control.empty()) return;
  std::string text = drive_ ? "drive on\n" : "drive off\n";
  if (mishaps_.contains("loose") && !rig_.sensors.empty()) text += fmt::format("loose {}\n", rig_.sensors.front().name);
  if (mishaps_.contains("tach")) text += "tach off\n";
  // Every piece is half as heavy again as it was said to be.
  const double wrong = mishaps_.contains("weight") ? 1.5 : 1.0;
  std::optional<double> speed = options_.first_speed_rad_s;
  if (const auto asked = rig_work_ ? next_step(*rig_work_).speed_rad_s
                         : known_  ? known_->next().speed_rad_s
                                   : std::nullopt)
    speed = asked;
  if (speed) text += fmt::format("speed {:.1f} rpm\n", rpm(*speed));
  const auto add = [&](const std::vector<FittedWeight>& pieces, const Shaft& shaft) {
    for (const FittedWeight& piece : pieces) {
      text +=
          fmt::format("fitted {}: {:.4f} g @ {:.3f} deg\n", shaft.planes.at(static_cast<std::size_t>(piece.plane)).name,
                      wrong * piece.mass_kg * 1e3, degrees(piece.angle_rad));
    }
  };
  if (rig_work_) {
    add(masses_are_on(*rig_work_) ? masses_for_spin(*rig_work_) : std::vector<FittedWeight>(), rig_work_->shaft());
  } else if (known_) {
    add(state_of(known_->job.events).on_shaft, known_->job.shaft());
  }
  const fs::path fresh = options_.practice_control.string() + ".new";
  std::ofstream(fresh, std::ios::binary) << text;
  std::error_code ignored;
  fs::rename(fresh, options_.practice_control, ignored);
}

Json JobSession::now(const Viewer& viewer) {
  const std::scoped_lock lock(mutex_);
  Json screen = {{"job", nullptr}, {"step", "start"}};
  if (knocks_) {
    screen = words_of_knocks(knocks_->recorded.size(), knocks_->recording, knocks_->found, rig_, viewer);
  } else if (const RigWork* work = rig_work()) {
    screen = rig_screen(*work, viewer);
  } else if (const KnownJob* known = current()) {
    screen = screen_of(*known, viewer);
  }
  screen["serial"] = serial_;
  screen["rig"] = rig_.name;
  screen["practice"] = !options_.practice_control.empty();
  screen["drive"] = drive();
  screen["mishaps"] = mishaps_;
  screen["truth"] = truth(viewer);
  screen["live"] = !options_.source.empty();
  return screen;
}

Json JobSession::screen_of(const KnownJob& known, const Viewer& viewer) {
  Json screen = document_of(known);
  add_words(screen, known, request_of(known), viewer);
  screen["stock"] = known.stock ? Json(known.stock->name) : Json(nullptr);
  screen["stock_trouble"] = stock_trouble_.in(viewer.words().language);
  const bool named = next_name_.job == known.job.name && !next_name_.label.empty();
  screen["spin_name"] = named ? next_name_.label : usual_label(known.job);
  return screen;
}

Json JobSession::shafts(const Viewer& viewer) {
  const std::scoped_lock lock(mutex_);
  Json list = Json::array();
  for (const fs::path& file : shaft_files(options_.shafts_folder)) {
    if (const Json line = shaft_line(file, viewer); !line.is_null()) list.push_back(line);
  }
  constexpr int earlier_jobs = 200;
  std::set<std::string> listed;
  for (const Json& line : list)
    if (line["id"].is_string()) listed.insert(line["id"].get<std::string>());
  for (const JobOverview& line : log_.list({}, 0, earlier_jobs))
    if (listed.insert(line.shaft).second)
      list.push_back({{"job", line.name}, {"id", line.shaft}, {"words", line.family}, {"fault", nullptr}});
  return list;
}

Json JobSession::jobs(const std::string& words, int first, const Viewer& viewer) {
  constexpr int at_a_time = 50;
  const std::scoped_lock lock(mutex_);
  LogFilter filter;
  filter.words = words;
  std::vector<JobOverview> lines = log_.list(filter, first, at_a_time + 1);
  const bool more = lines.size() > at_a_time;
  if (more) lines.pop_back();
  Json list = Json::array();
  for (const JobOverview& line : lines) list.push_back(words_of(line, viewer));
  return {{"jobs", list}, {"more", more}};
}

Json JobSession::history(const std::string& name, const Viewer& viewer) {
  const std::scoped_lock lock(mutex_);
  return words_of(log_.job(name), viewer);
}

namespace {

/// Final residual over limit of the newest jobs that have one, oldest first.
std::vector<TrendPoint> newest_ratios(const std::vector<JobOverview>& newest_first) {
  constexpr std::size_t drawn = 100;
  std::vector<TrendPoint> points;
  for (const JobOverview& line : newest_first)
    if (line.worst_ratio && points.size() < drawn) points.push_back({line.name, *line.worst_ratio, line.verdict});
  std::reverse(points.begin(), points.end());
  return points;
}

}  // namespace

std::string JobSession::trends_drawn(const Viewer& viewer, Theme theme) {
  std::vector<TrendPoint> points;
  {
    const std::scoped_lock lock(mutex_);
    points = newest_ratios(log_.list());
  }
  std::vector<double> values;
  for (const TrendPoint& point : points) values.push_back(point.ratio);
  PictureOf of;
  of.as_of = utc_day(now_unix_s());
  of.program = options_.program;
  return drawn(titled(trend_picture(points, control_chart(values), viewer.words()), of, viewer.words()), theme);
}

Json JobSession::trends(const Viewer& viewer) {
  const std::scoped_lock lock(mutex_);
  const std::vector<JobOverview> lines = log_.list();
  return {{"chart", newest_ratios(lines).empty() ? Json(nullptr) : pictures_at("/trends.svg?", viewer)},
          {"chart_words", viewer.texts("trend_chart")},
          {"week", words_of(trend_of(lines, Grouping::week), viewer)},
          {"rig", words_of(trend_of(lines, Grouping::rig), viewer)},
          {"family", words_of(trend_of(lines, Grouping::family), viewer)}};
}

Json JobSession::health(const RecorderView& live, const Viewer& viewer) {
  RepeatedSpins repeated;
  {
    const std::scoped_lock lock(mutex_);
    log_.for_each_job({"", rig_.name, "", {}, {}}, [&](const Job& job) { repeated.add(job); });
  }
  return words_of_health(live, rig_, repeated.repeatability(), viewer);
}

Json JobSession::rig_model(const Viewer& viewer) {
  const std::scoped_lock lock(mutex_);
  const RigShown shown = shown_rig(log_, rig_);
  std::optional<RigPart> advice;
  if (const KnownJob* known = current(); known != nullptr && state_of(known->job.events).open) {
    try {
      advice = part_of(advised_speed(shown.model, known->job.shaft()), known->job.shaft(), viewer.words());
    } catch (const Error& error) {  // of a shaft whose file does not say enough
      const RigModelWords& texts = rig_model_words(viewer.words());
      advice = RigPart{say(texts.shaft, known->job.shaft().id),
                       {{texts.balance_at, refusal_text(error, viewer.words()) + "; " +
                                               remedy_text(error.code(), error.remedy(), viewer.words())}}};
    }
  }
  return words_of(shown, advice, viewer);
}

std::string JobSession::rig_model_drawn(const Viewer& viewer, Theme theme) {
  std::optional<RigShown> shown;
  {
    const std::scoped_lock lock(mutex_);
    shown = shown_rig(log_, rig_);
  }
  PictureOf of;
  of.rig = rig_.name;
  of.as_of = utc_day(now_unix_s());
  of.program = options_.program;
  const Picture model = rig_model_picture(shown->condition, shown->sensors, viewer.words());
  return drawn(titled(model, of, viewer.words()), theme);
}

JobSession::Placing JobSession::placing(Base base) {
  constexpr double patience_s = 2.0;
  const std::scoped_lock one_at_a_time(placing_);
  std::shared_ptr<const KnownJob> known;
  {
    const std::scoped_lock lock(mutex_);
    if (const KnownJob* present = current()) known = std::make_shared<const KnownJob>(*present);
  }
  if (!known || !known->stock)
    throw Error(Trouble::request, "no_stock", "no stock is known here",
                "say which weights there are: on the page under 'stock', or with --stock");
  const auto same = [&](const Placing& each) {
    return each.job == known->job.name && each.entries == known->job.events.size() && each.base == base;
  };
  if (const auto kept = std::find_if(placed_.begin(), placed_.end(), same); kept != placed_.end()) return *kept;
  CorrectionOptions options;
  const auto end = std::chrono::steady_clock::now() + std::chrono::duration<double>(patience_s);
  options.fitting.out_of_time = [end] { return std::chrono::steady_clock::now() > end; };
  auto found = std::make_shared<const StockCorrection>(stock_correction(*known, *known->stock, base, options));
  std::erase_if(placed_, [&](const Placing& each) { return each.job != known->job.name || each.base == base; });
  placed_.push_back({known->job.name, known->job.events.size(), base, known, std::move(found)});
  return placed_.back();
}

Json JobSession::stock_ways(Base base, const Viewer& viewer) {
  const Placing placing = this->placing(base);
  return words_of(*placing.found, *placing.known->stock, *placing.known, viewer);
}

namespace {

ClockFace face_of_way(const KnownJob& known, const StockCorrection& found, const std::string& name, std::size_t plane,
                      UnitSystem units) {
  for (const StockWay& way : ways_of(found)) {
    if (way.name != name) continue;
    return face_to_fit(known.job.rig(), known.job.shaft(), plane, without_numbers(found.on_shaft, way.off), way.fit,
                       units);
  }
  throw Error(Trouble::request, "not_found", "there is no such choice of the stock", "load the page again");
}

}  // namespace

std::string JobSession::face(int plane, Base base, const std::string& way, const Viewer& viewer, Theme theme) {
  ClockFace face;
  PictureOf of;
  if (!way.empty()) {
    const Placing placing = this->placing(base);
    if (plane < 0 || plane >= static_cast<int>(placing.known->job.shaft().planes.size()))
      throw Error(Trouble::request, "not_found", "there is no such plane", "load the page again");
    face = face_of_way(*placing.known, *placing.found, way, static_cast<std::size_t>(plane), viewer.units);
    of = picture_of(placing.known->job, viewer.units, options_.program);
  } else if (const std::scoped_lock lock(mutex_); rig_work() != nullptr) {
    face = face_of_rig_work(plane, viewer);
    of.rig = rig_work_->rig().name;
    of.shaft = rig_work_->shaft().id;
    of.units = viewer.units;
    of.program = options_.program;
  } else {
    const KnownJob* known = current();
    const Shaft shaft = known != nullptr ? known->job.shaft() : Shaft{};
    if (plane < 0 || plane >= static_cast<int>(shaft.planes.size()))
      throw Error(Trouble::request, "not_found", "there is no such plane", "load the page again");
    const JobState state = state_of(known->job.events);
    const NextStep step = known->next();
    const bool bare = base == Base::bare && step.instead;
    face =
        face_to_fit(rig_, shaft, static_cast<std::size_t>(plane), bare ? with_trials_off(state, step) : state.on_shaft,
                    bare ? step.instead->pieces : step.pieces, viewer.units);
    of = picture_of(known->job, viewer.units, options_.program);
  }
  return drawn(face_to_touch(face, of, viewer.words()), theme);
}

std::string JobSession::sheet(const std::string& job, PictureFormat format, const Viewer& viewer) {
  std::optional<Sheet> sheet;
  {
    const std::scoped_lock lock(mutex_);
    sheet = sheet_of(log_, job, viewer.units);
  }
  return sheet_file(*sheet, format, viewer.words(), viewer.units);
}

Json JobSession::look_at(const fs::path& recording, const std::string& name, const Viewer& viewer) {
  Rig rig;
  {
    const std::scoped_lock lock(mutex_);
    rig = rig_;
  }
  const RecordingOptions reading = recording_options(rig);
  refuse_what_is_long(recording, name, reading);
  return words_of(inspect_recording(recording, rig, reading), name, viewer);
}

}  // namespace counterspot
