#include "counterspot/console.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <chrono>
#include <condition_variable>
#include <cstdlib>
#include <fstream>
#include <mutex>
#include <semaphore>
#include <thread>

#include "console/access.hpp"
#include "console/assets.hpp"
#include "console/desk.hpp"
#include "console/station.hpp"
#include "counterspot/error.hpp"
#include "counterspot/files.hpp"

namespace counterspot {

namespace {

namespace fs = std::filesystem;

constexpr int most_live_streams = 80;
constexpr int uploads_at_once = 4;
constexpr int server_threads = 112;  // every live stream keeps one
constexpr double stream_every_s = 0.2;

constexpr const char* content_policy =
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; form-action "
    "'none'; frame-ancestors 'none'; base-uri 'none'";

int status_of(const Error& error) {
  if (error.code() == "job_moved_on") return 409;
  switch (error.trouble()) {
    case Trouble::request: return 400;
    case Trouble::recording: return 422;
    case Trouble::machine: return 500;
  }
  return 500;
}

void answer(httplib::Response& response, const Json& document) {
  response.set_content(document.dump(-1, ' ', false, Json::error_handler_t::replace), "application/json");
}

void answer(httplib::Response& response, const Error& error) {
  response.status = status_of(error);
  answer(response, json_of(error));
}

UnitSystem units_of(const httplib::Request& request) {
  return request.get_param_value("units") == "inch" ? UnitSystem::inch : UnitSystem::metric;
}

/// An upload on its way: a file of its own that goes with it.
class ArrivingFile {
 public:
  explicit ArrivingFile(const fs::path& folder) : path_((folder / "upload-XXXXXX").string()) {
    number_ = ::mkostemp(path_.data(), O_CLOEXEC);
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
    bytes_ += count;
    return true;
  }
  std::uint64_t bytes() const { return bytes_; }
  const std::string& path() const { return path_; }
  void keep_as(const fs::path& path) {
    fs::rename(path_, path);
    path_.clear();
  }

 private:
  std::string path_;
  int number_ = -1;
  std::uint64_t bytes_ = 0;
};

/// Measures finished recordings, so that the station's thread never waits for the log.
class Clerk {
 public:
  explicit Clerk(std::function<void(const Wish&, const fs::path&)> work)
      : thread_([this, work = std::move(work)](const std::stop_token& stop) { run(stop, work); }) {}
  void give(const Wish& wish, const fs::path& recording) {
    const std::scoped_lock lock(mutex_);
    waiting_.push_back({wish, recording});
    changed_.notify_all();
  }

 private:
  struct Task {
    Wish wish;
    fs::path recording;
  };
  void run(const std::stop_token& stop, const std::function<void(const Wish&, const fs::path&)>& work) {
    for (;;) {
      std::unique_lock lock(mutex_);
      if (!changed_.wait(lock, stop, [this] { return !waiting_.empty(); })) return;
      const Task task = std::move(waiting_.front());
      waiting_.pop_front();
      lock.unlock();
      work(task.wish, task.recording);
    }
  }

  std::mutex mutex_;
  std::condition_variable_any changed_;
  std::deque<Task> waiting_;
  std::jthread thread_;  // last: ends before what it uses
};

}  // namespace

struct Console::Inside {
  Inside(Log log, const ConsoleOptions& asked);
  ~Inside();

  void set_up_access();
  void set_up_pages();
  void set_up_questions();
  void set_up_deeds();
  void ask(const char* path, std::function<Json(const httplib::Request&)> question);
  void deed(const char* path, std::function<void(const Json&)> what);
  void stream(const httplib::Request& request, httplib::Response& response);
  void take_upload(const httplib::Request& request, httplib::Response& response, const httplib::ContentReader& reader);
  Json use_upload(const httplib::Request& request, ArrivingFile& file);
  void enter_spin(const Wish& wish, const fs::path& recording);
  void bind();

  ConsoleOptions options;
  Gate gate;
  httplib::Server server;
  std::atomic<bool> stopping = false;
  std::atomic<int> streams = 0;
  std::counting_semaphore<uploads_at_once> upload_slots{uploads_at_once};
  std::mutex measuring;  // one upload at a time is measured, so that memory stays bounded
  std::mutex trouble_mutex;
  std::string spin_trouble;          // why the last spin was not taken
  std::unique_ptr<Station> station;  // before the desk's first wish there is none to tell
  std::unique_ptr<Desk> desk;
  std::unique_ptr<Clerk> clerk;
  std::jthread serving;
};

Console::Inside::Inside(Log log, const ConsoleOptions& asked) : options(asked) {
  if (!is_numeric_address(options.address))
    throw Error(Trouble::request, "bad_address", fmt::format("'{}' is not a numeric address", options.address),
                "write it as in 127.0.0.1");
  if (!is_loopback(options.address) && options.token.empty())
    throw Error(Trouble::request, "needs_token", "an address that others can reach needs a token", "give --token");
  fs::create_directories(options.recordings_folder);
  const Rig rig = read_rig(options.rig_file);
  station = std::make_unique<Station>(options.source, options.live, rig,
                                      [this](const Wish& wish, const fs::path& file) { clerk->give(wish, file); });
  clerk = std::make_unique<Clerk>([this](const Wish& wish, const fs::path& file) { enter_spin(wish, file); });
  desk = std::make_unique<Desk>(std::move(log), options, [this](const Wish& wish) { station->wish(wish); });
  set_up_access();
  set_up_pages();
  set_up_questions();
  set_up_deeds();
  bind();
  serving = std::jthread([this] { server.listen_after_bind(); });
  while (!server.is_running()) std::this_thread::sleep_for(std::chrono::milliseconds(1));
}

Console::Inside::~Inside() {
  stopping = true;
  server.stop();
  serving.join();
  station.reset();  // the capturing threads end before the clerk that they give work to
  clerk.reset();
}

void Console::Inside::bind() {
  const char* host = options.address.c_str();
  const bool bound =
      options.port == 0 ? (options.port = server.bind_to_any_port(host)) > 0 : server.bind_to_port(host, options.port);
  if (!bound)
    throw Error(Trouble::machine, "port_taken", fmt::format("nothing can be served on {} port {}", host, options.port),
                "another console may be running; else choose another --port");
  gate = {options.address, options.port, options.token, options.most_upload_bytes};
}

void Console::Inside::set_up_access() {
  // NOLINTNEXTLINE(cppcoreguidelines-owning-memory): the server owns the queue and deletes it
  server.new_task_queue = [] { return new httplib::ThreadPool(server_threads); };
  server.set_keep_alive_max_count(1);
  server.set_read_timeout(5, 0);
  server.set_write_timeout(5, 0);
  server.set_payload_max_length(options.most_upload_bytes);
  server.set_default_headers({{"Content-Security-Policy", content_policy},
                              {"X-Content-Type-Options", "nosniff"},
                              {"X-Frame-Options", "DENY"},
                              {"Referrer-Policy", "no-referrer"},
                              {"Cross-Origin-Resource-Policy", "same-origin"},
                              {"Cache-Control", "no-store"}});
  server.set_pre_routing_handler([this](const httplib::Request& request, httplib::Response& response) {
    const auto refusal = gate.refuse(request);
    if (!refusal) return httplib::Server::HandlerResponse::Unhandled;
    response.status = refusal->status;
    response.set_header("Connection", "close");
    answer(response, {{"code", refusal->code}, {"message", refusal->message}, {"remedy", refusal->remedy}});
    return httplib::Server::HandlerResponse::Handled;
  });
  server.set_exception_handler(
      [](const httplib::Request&, httplib::Response& response, const std::exception_ptr& trouble) {
        try {
          std::rethrow_exception(trouble);
        } catch (const Error& error) {
          answer(response, error);
        } catch (const std::exception&) {
          response.status = 500;
          answer(response, {{"code", "fault"}, {"message", "this is a fault of the program"}, {"remedy", "report it"}});
        }
      });
}

void Console::Inside::set_up_pages() {
  server.Get("/", [this](const httplib::Request& request, httplib::Response& response) {
    if (request.has_param("token") && !gate.token.empty()) {
      // The token leaves the address bar for a cookie that no script can read.
      response.set_header("Set-Cookie", "counterspot_token=" + request.get_param_value("token") +
                                            "; HttpOnly; SameSite=Strict; Path=/");
      response.set_redirect("/");
      return;
    }
    response.set_content(page_html.data(), page_html.size(), "text/html; charset=utf-8");
  });
  server.Get("/console.css", [](const httplib::Request&, httplib::Response& response) {
    response.set_content(page_css.data(), page_css.size(), "text/css; charset=utf-8");
  });
  server.Get("/console.js", [](const httplib::Request&, httplib::Response& response) {
    response.set_content(page_js.data(), page_js.size(), "text/javascript; charset=utf-8");
  });
}

void Console::Inside::ask(const char* path, std::function<Json(const httplib::Request&)> question) {
  server.Get(path, [question = std::move(question)](const httplib::Request& request, httplib::Response& response) {
    answer(response, question(request));
  });
}

void Console::Inside::set_up_questions() {
  ask("/api/now", [this](const httplib::Request& request) {
    Json now = desk->now(units_of(request));
    const std::scoped_lock lock(trouble_mutex);
    now["spin_trouble"] = spin_trouble;
    return now;
  });
  ask("/api/jobs", [this](const httplib::Request&) { return desk->jobs(); });
  ask("/api/job", [this](const httplib::Request& request) {
    return desk->history(request.get_param_value("job"), units_of(request));
  });
  ask("/api/trends", [this](const httplib::Request&) { return desk->trends(); });
  ask("/api/health", [this](const httplib::Request&) { return desk->health(station->view()); });
  ask("/api/shafts", [this](const httplib::Request&) { return desk->shafts(); });
  ask("/api/live-once",
      [this](const httplib::Request& request) { return live_event(station->view(), desk->rig(), units_of(request)); });
  server.Get("/api/live",
             [this](const httplib::Request& request, httplib::Response& response) { stream(request, response); });
}

void Console::Inside::deed(const char* path, std::function<void(const Json&)> what) {
  server.Post(path, [this, what = std::move(what)](const httplib::Request& request, httplib::Response& response) {
    const Json said = Json::parse(request.body, nullptr, false);
    if (!said.is_object())
      throw Error(Trouble::request, "bad_request", "the request is not a JSON object", "load the page again");
    try {
      what(said);
    } catch (const Json::exception&) {
      throw Error(Trouble::request, "bad_request", "a value in the request is of the wrong kind",
                  "load the page again");
    }
    answer(response, desk->now(units_of(request)));
  });
}

void Console::Inside::set_up_deeds() {
  deed("/api/open", [this](const Json& said) { desk->open(said); });
  deed("/api/choose", [this](const Json& said) { desk->choose(said); });
  deed("/api/fit", [this](const Json& said) { desk->fit(said); });
  deed("/api/back", [this](const Json& said) { desk->take_back(said); });
  deed("/api/close", [this](const Json& said) { desk->close(said); });
  deed("/api/practice", [this](const Json& said) { desk->practice(said); });
  server.Post(upload_path, [this](const httplib::Request& request, httplib::Response& response,
                                  const httplib::ContentReader& reader) { take_upload(request, response, reader); });
}

/// Server-sent events (HTML Living Standard, 9.2): one now, one with every change, one every 2 s so that a client that
/// went is noticed. At most one each fifth of a second.
void Console::Inside::stream(const httplib::Request& request, httplib::Response& response) {
  if (++streams > most_live_streams) {
    --streams;
    throw Error(Trouble::machine, "too_many_screens", "too many screens follow the rig", "close some of them");
  }
  auto news = std::make_shared<std::uint64_t>(~std::uint64_t{0});
  const UnitSystem units = units_of(request);
  response.set_chunked_content_provider(
      "text/event-stream",
      [this, news, units](std::size_t /*offset*/, httplib::DataSink& sink) {
        const StationView view = station->wait_for_news(*news, 2.0);
        if (stopping) return false;
        *news = view.news;
        const std::string event =
            "retry: 1000\ndata: " +
            live_event(view, desk->rig(), units).dump(-1, ' ', false, Json::error_handler_t::replace) + "\n\n";
        const bool taken = sink.write(event.data(), event.size());
        if (taken) std::this_thread::sleep_for(std::chrono::duration<double>(stream_every_s - 0.05));
        return taken && !stopping;
      },
      [this](bool /*whole*/) { --streams; });
}

void Console::Inside::take_upload(const httplib::Request& request, httplib::Response& response,
                                  const httplib::ContentReader& reader) {
  if (!upload_slots.try_acquire_for(std::chrono::seconds(60)))
    throw Error(Trouble::machine, "busy", "too many recordings come in at once", "try again in a minute");
  struct Slot {
    std::counting_semaphore<uploads_at_once>& slots;
    ~Slot() { slots.release(); }
  } const slot{upload_slots};
  ArrivingFile file(options.recordings_folder);
  const auto begin = std::chrono::steady_clock::now();
  const bool whole = reader([&](const char* bytes, std::size_t count) {
    const std::chrono::duration<double> taken = std::chrono::steady_clock::now() - begin;
    return taken.count() < options.upload_s && file.add(bytes, count);
  });
  if (!whole || std::to_string(file.bytes()) != request.get_header_value("Content-Length")) {
    throw Error(Trouble::request, "cut_short", "the upload did not arrive whole, or in time", "send it again");
  }
  answer(response, use_upload(request, file));
}

Json Console::Inside::use_upload(const httplib::Request& request, ArrivingFile& file) {
  const std::scoped_lock lock(measuring);
  Json told = desk->look_at(file.path(), "the upload");
  const std::string job = request.get_param_value("job");
  if (request.get_param_value("as") != "spin" || job.empty()) return told;
  if (!told["usable"].get<bool>()) return told;
  const std::string hash = sha256_of_file(file.path());
  const fs::path kept = options.recordings_folder / ("uploaded-" + hash.substr(0, 16));
  file.keep_as(kept);
  desk->add_spin(kept, request.get_param_value("label"), job, std::nullopt);
  told["entered"] = true;
  return told;
}

void Console::Inside::enter_spin(const Wish& wish, const fs::path& recording) {
  std::string trouble;
  try {
    desk->add_recorded(wish.serial, recording);
  } catch (const Error& error) {
    trouble = std::string(error.what()) + "; " + error.remedy();
  }
  {
    const std::scoped_lock lock(trouble_mutex);
    spin_trouble = trouble;
  }
  if (!trouble.empty()) desk->wish_again();
}

Console::Console(Log log, const ConsoleOptions& options) : inside_(std::make_unique<Inside>(std::move(log), options)) {}
Console::~Console() = default;

std::string Console::url() const {
  const ConsoleOptions& options = inside_->options;
  const bool v6 = options.address.find(':') != std::string::npos;
  return fmt::format("http://{}:{}/{}", v6 ? "[" + options.address + "]" : options.address, options.port,
                     options.token.empty() ? "" : "?token=" + options.token);
}

}  // namespace counterspot
