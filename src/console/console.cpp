#include "counterspot/console/console.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <unistd.h>

#include <condition_variable>
#include <cstdlib>
#include <mutex>
#include <random>
#include <thread>

#include "console/assets.hpp"
#include "console/job_session.hpp"
#include "console/live_curves.hpp"
#include "console/live_faces.hpp"
#include "console/page_service.hpp"
#include "console/recorder.hpp"
#include "console/stock_session.hpp"
#include "console/words.hpp"
#include "counterspot/drawing/drawing_tap.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/files/new_files.hpp"
#include "counterspot/units/error.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

namespace fs = std::filesystem;

constexpr double beat_s = 0.5;  // an event comes at least so often: the page tells from it that it is heard

constexpr const char* arriving_name = ".upload-XXXXXX";

/// A file that goes with its owner, who holds a lock on it.
class ArrivingFile {
 public:
  explicit ArrivingFile(const fs::path& folder) : path_((folder / arriving_name).string()) {
    number_ = ::mkostemp(path_.data(), O_CLOEXEC);
    if (number_ >= 0) ::flock(number_, LOCK_EX | LOCK_NB);
    if (number_ < 0)
      throw Error(Trouble::machine, "disk", "the upload cannot be kept", "make room where the recordings are");
  }
  ArrivingFile(const ArrivingFile&) = delete;
  ArrivingFile& operator=(const ArrivingFile&) = delete;
  ArrivingFile(ArrivingFile&&) = delete;
  ArrivingFile& operator=(ArrivingFile&&) = delete;
  ~ArrivingFile() {
    ::close(number_);
    std::error_code ignored;
    if (!path_.empty()) fs::remove(path_, ignored);
  }

  bool add(const char* bytes, std::size_t count) {
    for (std::size_t done = 0; done < count;) {
      const ssize_t put = ::write(number_, bytes + done, count - done);
      if (put < 0 && errno == EINTR) continue;
      if (put <= 0) return false;
      done += static_cast<std::size_t>(put);
    }
    return true;
  }
  const std::string& path() const { return path_; }
  void keep_as(const fs::path& path) {
    fs::rename(path_, path);
    path_.clear();
  }

 private:
  std::string path_;
  int number_ = -1;
};

/// What was arriving when a console was killed or had no more time, and nobody holds.
void remove_abandoned_uploads(const fs::path& folder) {
  const std::string_view name(arriving_name);
  std::error_code ignored;
  for (const fs::directory_entry& entry : fs::directory_iterator(folder, ignored)) {
    const std::string found = entry.path().filename().string();
    if (found.size() != name.size() || !found.starts_with(name.substr(0, name.find('X')))) continue;
    const int number = ::open(entry.path().c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);
    if (number < 0) continue;
    if (::flock(number, LOCK_EX | LOCK_NB) == 0) fs::remove(entry.path(), ignored);
    ::close(number);
  }
}

/// Puts recordings on the disk and measures them, so that the recorder's thread waits for neither.
class RecordingQueue {
 public:
  explicit RecordingQueue(std::function<void(SpinFile&)> work)
      : thread_([this, work = std::move(work)](const std::stop_token& stop) { run(stop, work); }) {}
  void add(SpinFile spin) {
    const std::scoped_lock lock(mutex_);
    waiting_.push_back(std::move(spin));
    changed_.notify_all();
  }

 private:
  /// Until it is asked to stop and nothing waits. @param work throws nothing.
  void run(const std::stop_token& stop, const std::function<void(SpinFile&)>& work) {
    for (;;) {
      std::unique_lock lock(mutex_);
      if (!changed_.wait(lock, stop, [this] { return !waiting_.empty(); })) return;
      SpinFile spin = std::move(waiting_.front());
      waiting_.pop_front();
      lock.unlock();
      work(spin);
    }
  }

  std::mutex mutex_;
  std::condition_variable_any changed_;
  std::deque<SpinFile> waiting_;
  std::jthread thread_;  // last: ends before what it uses
};

}  // namespace

struct Console::Inside final : public PageService {
  Inside(Log log, const ConsoleOptions& asked);
  Inside(const Inside&) = delete;
  Inside& operator=(const Inside&) = delete;
  Inside(Inside&&) = delete;
  Inside& operator=(Inside&&) = delete;
  ~Inside() override;

  std::unique_ptr<Arriving> upload() override;
  std::string event(const Parameters& parameters, std::uint64_t& news) override;
  Json now(const Viewer& viewer) override { return session->now(viewer); }

  void set_up_pages();
  void set_up_queries();
  void set_up_commands();
  void enter_spin(SpinFile& spin);
  Json live(const RecorderView& view, const Viewer& viewer);
  Reply use(ArrivingFile& file, const Parameters& parameters);

  ConsoleOptions options;
  Rig rig;               // as it was at the start: for what its channels are called
  std::mutex measuring;  // one upload at a time is measured, so that memory stays bounded
  std::mutex trouble_mutex;
  Said spin_trouble;  // why the last spin was not taken
  LiveFaces faces;
  std::unique_ptr<JobSession> session;
  std::unique_ptr<StockSession> stock;
  std::unique_ptr<RecordingQueue> recordings;
  std::unique_ptr<Recorder> recorder;
  std::unique_ptr<LiveCurves> curves;
};

namespace {

Base base_in(const Parameters& asked) {
  return text_in(asked, "base") == "bare" ? Base::bare : Base::as_spun;
}

class Upload final : public Arriving {
 public:
  Upload(const fs::path& folder, std::function<Reply(ArrivingFile&, const Parameters&)> use)
      : file_(folder), use_(std::move(use)) {}
  bool add(const char* bytes, std::size_t count) override { return file_.add(bytes, count); }
  Reply use(const Parameters& parameters) override {
    return answered(english(), [&] { return use_(file_, parameters); });
  }

 private:
  ArrivingFile file_;
  std::function<Reply(ArrivingFile&, const Parameters&)> use_;
};

}  // namespace

Console::Inside::Inside(Log log, const ConsoleOptions& asked) : PageService(asked.language), options(asked) {
  std::error_code unmade;
  fs::create_directories(options.recordings_folder, unmade);
  if (unmade)
    throw Error(Trouble::machine, "disk", options.recordings_folder.string() + " cannot be made: " + unmade.message(),
                "give the program the right to write there, or name another folder with --recordings");
  remove_abandoned_uploads(options.recordings_folder);
  rig = read_rig(options.rig_file);
  // A spin is asked for and entered only when all three are there.
  recorder = std::make_unique<Recorder>(options.source, options.live, rig,
                                        [this](SpinFile spin) { recordings->add(std::move(spin)); });
  recordings = std::make_unique<RecordingQueue>([this](SpinFile& spin) { enter_spin(spin); });
  session = std::make_unique<JobSession>(std::move(log), options,
                                         [this](const SpinRequest& request) { recorder->request(request); });
  const fs::path shop = options.shop_file.empty() ? options.rig_file.parent_path() / "shop.toml" : options.shop_file;
  stock = std::make_unique<StockSession>(stock_place(options.stock_file, shop),
                                         [this](const fs::path& written) { session->use_stock(written); });
  curves = std::make_unique<LiveCurves>(*recorder, rig, options.program);
  set_up_pages();
  set_up_queries();
  set_up_commands();
  serve(options.address, options.port, options.token, options.watch_token, options.most_upload_bytes);
}

/// What is being recorded comes first, while the server may still wait for an answer to be worked out.
Console::Inside::~Inside() {
  recorder->stop();
  recordings.reset();
  stop_serving();
}

void Console::Inside::set_up_pages() {
  add_file("/", page_html, "text/html; charset=utf-8");
  for (const auto& [path, text] :
       std::initializer_list<std::pair<const char*, std::string_view>>{{"/console.js", page_js},
                                                                       {"/faces.js", page_faces},
                                                                       {"/curves.js", page_curves},
                                                                       {"/watch.js", page_watch},
                                                                       {"/fit.js", page_fit},
                                                                       {"/practice.js", page_practice},
                                                                       {"/signals.js", page_signals},
                                                                       {"/order.js", page_order},
                                                                       {"/course.js", page_course},
                                                                       {"/rig.js", page_rig},
                                                                       {"/actions.js", page_actions}})
    add_file(path, text, "text/javascript; charset=utf-8");
  add_picture("/face.svg", [this](const Parameters& asked, const Viewer& viewer) {
    return session->face(number_in(asked, "plane"), base_in(asked), text_in(asked, "way"), viewer, theme_in(asked));
  });
  add_picture("/live-face.svg", [this](const Parameters& asked, const Viewer& viewer) {
    const Picture ground = faces.ground(recorder->view(), number_in(asked, "face"), size_in(asked, "rim"),
                                        number_in(asked, "lens") == 1, viewer);
    return drawn(ground, theme_in(asked));
  });
  for (const auto& [path, kind] : {std::pair{"/live-time.svg", LiveCurves::Kind::time},
                                   {"/live-speed.svg", LiveCurves::Kind::speed},
                                   {"/live-orders.svg", LiveCurves::Kind::orders}})
    add_picture(path, [this, kind = kind](const Parameters& asked, const Viewer& viewer) {
      return curves->drawn(kind, viewer, theme_in(asked));
    });
  add_picture("/rig-model.svg", [this](const Parameters& asked, const Viewer& viewer) {
    return session->rig_model_drawn(viewer, theme_in(asked));
  });
  add_picture("/trends.svg", [this](const Parameters& asked, const Viewer& viewer) {
    return session->trends_drawn(viewer, theme_in(asked));
  });
  add_picture("/rig-work.svg", [this](const Parameters& asked, const Viewer& viewer) {
    return session->rig_work_drawn(text_in(asked, "work"), viewer, theme_in(asked));
  });
  add_picture("/course.svg", [this](const Parameters& asked, const Viewer& viewer) {
    return session->course_drawn(text_in(asked, "job"), viewer, theme_in(asked));
  });
  add_picture("/sheet.svg", [this](const Parameters& asked, const Viewer& viewer) {
    return session->sheet(text_in(asked, "job"), PictureFormat::svg, viewer);
  });
  add_picture(
      "/sheet.pdf",
      [this](const Parameters& asked, const Viewer& viewer) {
        return session->sheet(text_in(asked, "job"), PictureFormat::pdf, viewer);
      },
      "application/pdf");
}

void Console::Inside::set_up_queries() {
  add_document("/api/now", [this](const auto&, const Viewer& viewer) {
    Json now = session->now(viewer);
    const std::scoped_lock lock(trouble_mutex);
    now["spin_trouble"] = spin_trouble.in(viewer.words().language);
    return now;
  });
  add_document("/api/jobs", [this](const Parameters& asked, const Viewer& viewer) {
    return session->jobs(text_in(asked, "words"), number_in(asked, "from"), viewer);
  });
  add_document("/api/job", [this](const Parameters& asked, const Viewer& viewer) {
    return session->history(text_in(asked, "job"), viewer);
  });
  add_document("/api/course", [this](const Parameters& asked, const Viewer& viewer) {
    return session->course(text_in(asked, "job"), viewer);
  });
  add_document("/api/touched", [](const Parameters& asked, const auto&) {
    const auto clock = clock_touched(size_in(asked, "x"), size_in(asked, "y"));
    return Json{{"clock", clock ? Json(clock->text()) : Json(nullptr)}};
  });
  add_document("/api/stock", [this](const Parameters& asked, const Viewer& viewer) {
    return session->stock_ways(base_in(asked), viewer);
  });
  add_document("/api/trends", [this](const auto&, const Viewer& viewer) { return session->trends(viewer); });
  add_document("/api/health",
               [this](const auto&, const Viewer& viewer) { return session->health(recorder->view(), viewer); });
  add_document("/api/rig-model", [this](const auto&, const Viewer& viewer) { return session->rig_model(viewer); });
  add_document("/api/rig", [this](const auto&, const Viewer& viewer) { return session->rig_page(viewer); });
  add_document("/api/grade-help", [](const auto&, const Viewer& viewer) {
    return Json{{"words", grade_help().in(viewer.words().language)}};
  });
  add_document("/api/shafts", [this](const auto&, const Viewer& viewer) { return session->shafts(viewer); });
  add_document("/api/live-once", [this](const auto&, const Viewer& viewer) { return live(recorder->view(), viewer); });
}

void Console::Inside::set_up_commands() {
  add_command("/api/open", [this](const Json& said) { session->open(said); });
  add_command("/api/choose", [this](const Json& said) { session->choose(said); });
  add_command("/api/name", [this](const Json& said) { session->name_spin(said); });
  add_command("/api/fit", [this](const Json& said) { session->fit(said); });
  add_command("/api/back", [this](const Json& said) { session->take_back(said); });
  add_command("/api/order", [this](const Json& said) { session->state_order(said); });
  add_command("/api/close", [this](const Json& said) { session->close(said); });
  add_command("/api/reopen", [this](const Json& said) { session->reopen(said); });
  add_command("/api/code", [this](const Json& said) { session->open_code(said); });
  add_command("/api/rig-begin", [this](const Json& said) { session->begin_rig_work(said); });
  add_command("/api/rig-not-on", [this](const Json& said) { session->masses_are_not_on(said); });
  add_command("/api/rig-go-on", [this](const Json&) { session->go_on_with_rig(); });
  add_command("/api/knocks", [this](const Json&) { session->begin_knocks(); });
  add_command("/api/knocks-record", [this](const Json& said) {
    recorder->refuse_unless_standing();
    session->record_knocks(said);
  });
  add_command("/api/knocks-enough", [this](const Json&) { recorder->enough(); });
  add_command("/api/rig-write", [this](const Json& said) { session->write_sensitivities(said); });
  add_command("/api/rig-leave", [this](const Json&) { session->leave_rig(); });
  add_stock(*stock);
  add_command("/api/stands", [this](const Json&) { recorder->confirm_standing(); });
  add_command("/api/practice", [this](const Json& said) { session->practice(said); });
}

Json Console::Inside::live(const RecorderView& view, const Viewer& viewer) {
  Json event = live_event(view, rig, viewer);
  event["faces"] = faces.told(view, viewer);
  event["drive"] = session->drive();  // switched at another screen too
  return event;
}

std::string Console::Inside::event(const Parameters& parameters, std::uint64_t& news) {
  const RecorderView view = recorder->wait_for_news(news, beat_s);
  news = view.news;
  const Viewer viewer = viewer_in(parameters);
  return answered(viewer.words(), [&] { return reply_of(live(view, viewer)); }).body;
}

std::unique_ptr<Arriving> Console::Inside::upload() {
  try {
    return std::make_unique<Upload>(
        options.recordings_folder,
        [this](ArrivingFile& file, const Parameters& parameters) { return use(file, parameters); });
  } catch (const Error&) {
    return nullptr;
  }
}

Reply Console::Inside::use(ArrivingFile& file, const Parameters& parameters) {
  const std::scoped_lock lock(measuring);
  Json told = session->look_at(file.path(), "the upload", viewer_in(parameters));
  const std::string job = text_in(parameters, "job");
  if (text_in(parameters, "as") != "spin" || job.empty() || !told["usable"].get<bool>()) return reply_of(told);
  const fs::path kept = options.recordings_folder / ("uploaded-" + sha256_of_file(file.path()).substr(0, 16));
  file.keep_as(kept);
  session->add_spin(kept, text_in(parameters, "label"), job, std::nullopt);
  told["entered"] = true;
  return reply_of(told);
}

/// The outermost place of the queue's thread: what fails is said on the page, and the spin is wanted again.
void Console::Inside::enter_spin(SpinFile& spin) {
  auto say = [this](const Said& trouble) {
    const std::scoped_lock lock(trouble_mutex);
    spin_trouble = trouble;
  };
  const Said trouble = trouble_in([&] {
    // First: where the file cannot be finished either, hands are called back all the same.
    if (!spin.whole && spin.request.knocks) session->knocks_cut_off();
    const fs::path recording = finish(spin);
    if (spin.whole) session->add_recorded(spin.request.serial, recording);
  });
  if (spin.whole || !trouble.empty()) say(trouble);
  if (trouble.empty() || !spin.whole) return;
  const Said more = trouble_in([&] { session->request_again(); });
  if (!more.empty()) say(said({"{}; {}", "{}; {}"}, trouble, more));
}

Console::Console(Log log, const ConsoleOptions& options) : inside_(std::make_unique<Inside>(std::move(log), options)) {}
Console::~Console() = default;

std::vector<std::string> Console::urls() const {
  return inside_->urls();
}

std::vector<std::string> Console::watch_urls() const {
  return inside_->watch_urls();
}

std::string fresh_token() {
  std::random_device chance;  // the kernel's, on Linux
  std::string token;
  for (int i = 0; i < 4; ++i) token += fmt::format("{:08x}", chance());
  return token;
}

}  // namespace counterspot
