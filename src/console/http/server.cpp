#include <fmt/format.h>

#include <atomic>
#include <semaphore>
#include <thread>

#include "console/http/access.hpp"
#include "console/http/connection.hpp"
#include "console/service.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

constexpr int most_live_streams = 80;
constexpr int uploads_at_once = 4;
constexpr int server_threads = 112;  // every live stream keeps one
constexpr std::chrono::seconds upload_time{120};
constexpr std::chrono::milliseconds stream_every{100};  // as often as the tracker reads

constexpr const char* content_policy =
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; form-action 'none'; "
    "frame-ancestors 'none'; base-uri 'none'";

Parameters parameters_of(const httplib::Request& request) {
  Parameters parameters;
  for (const auto& [name, value] : request.params) parameters.emplace(name, value);  // of several, the first
  return parameters;
}

void answer(httplib::Response& response, const Reply& reply) {
  response.status = reply.status;
  response.set_content(reply.body, reply.kind);
}

class Serving final : public PageServer {
 public:
  Serving(const ServerOptions& options, Service& service) : service_(service) {
    check(options);
    set_up();
    const char* host = options.address.c_str();
    const bool any = options.port == 0;
    const int port = any ? server_.bind_to_any_port(host) : options.port;
    if (port <= 0 || (!any && !server_.bind_to_port(host, port)))
      throw Error(Trouble::machine, "port_taken", fmt::format("nothing can be served on {} port {}", host, port),
                  "another console may be running; else choose another --port");
    access_ = {options.address, port, options.token, options.most_upload_bytes};
    thread_ = std::jthread([this] { server_.listen_after_bind(); });
    while (!server_.is_running()) std::this_thread::sleep_for(std::chrono::milliseconds(1));
  }
  Serving(const Serving&) = delete;
  Serving& operator=(const Serving&) = delete;
  Serving(Serving&&) = delete;
  Serving& operator=(Serving&&) = delete;
  ~Serving() override {
    stopping_ = true;
    server_.stop();
  }

  int port() const override { return access_.port; }

 private:
  static void check(const ServerOptions& options) {
    if (!is_numeric_address(options.address))
      throw Error(Trouble::request, "bad_address", fmt::format("'{}' is not a numeric address", options.address),
                  "write it as in 127.0.0.1");
    if (!is_loopback(options.address) && options.token.empty())
      throw Error(Trouble::request, "needs_token", "an address that others can reach needs a token", "give --token");
  }

  void set_up() {
    // NOLINTNEXTLINE(cppcoreguidelines-owning-memory): the server owns the queue and deletes it
    server_.new_task_queue = [] { return new httplib::ThreadPool(server_threads); };
    server_.set_default_headers({{"Content-Security-Policy", content_policy},
                                 {"X-Content-Type-Options", "nosniff"},
                                 {"X-Frame-Options", "DENY"},
                                 {"Referrer-Policy", "no-referrer"},
                                 {"Cross-Origin-Resource-Policy", "same-origin"},
                                 {"Cache-Control", "no-store"}});
    server_.set_pre_routing_handler([this](const httplib::Request& request, httplib::Response& response) {
      const auto refusal = access_.refuse(request);
      if (!refusal) return httplib::Server::HandlerResponse::Unhandled;
      answer(response, refused(*refusal));
      return httplib::Server::HandlerResponse::Handled;
    });
    server_.Get(".*", [this](const httplib::Request& request, httplib::Response& response) { get(request, response); });
    server_.Post(upload_path, [this](const httplib::Request& request, httplib::Response& response,
                                     const httplib::ContentReader& reader) { upload(request, response, reader); });
    server_.Post(".*", [this](const httplib::Request& request, httplib::Response& response) {
      answer(response, service_.command(request.path, parameters_of(request), request.body));
    });
  }

  Reply refused(const Refusal& refusal) {
    return service_.refusal(refusal.code, refusal.message, refusal.remedy, refusal.status);
  }

  void get(const httplib::Request& request, httplib::Response& response) {
    if (request.path == "/" && request.has_param("token") && !access_.token.empty()) {
      // The token leaves the address bar for a cookie that no script can read.
      response.set_header("Set-Cookie", "counterspot_token=" + request.get_param_value("token") +
                                            "; HttpOnly; SameSite=Strict; Path=/");
      response.set_redirect("/");
    } else if (request.path == "/api/live") {
      stream(request, response);
    } else {
      answer(response, service_.query(request.path, parameters_of(request)));
    }
  }

  /// Server-sent events (HTML Living Standard, 9.2): one now, one with every change, and at least one each second, so
  /// that the page sees that it is heard, and a client that went is noticed. At most one each tenth of a second.
  void stream(const httplib::Request& request, httplib::Response& response) {
    if (++streams_ > most_live_streams) {
      --streams_;
      answer(response, refused({503, "too_many_screens", "too many screens follow the rig", "close some of them"}));
      return;
    }
    auto news = std::make_shared<std::uint64_t>(~std::uint64_t{0});
    response.set_chunked_content_provider(
        "text/event-stream",
        [this, news, parameters = parameters_of(request)](std::size_t /*offset*/, httplib::DataSink& sink) {
          const std::string event = "retry: 1000\ndata: " + service_.event(parameters, *news) + "\n\n";
          if (stopping_ || !sink.write(event.data(), event.size())) return false;
          std::this_thread::sleep_for(stream_every);
          return !stopping_.load();
        },
        [this](bool /*whole*/) { --streams_; });
  }

  void upload(const httplib::Request& request, httplib::Response& response, const httplib::ContentReader& reader) {
    if (!slots_.try_acquire_for(std::chrono::seconds(60)))
      return answer(response, refused({503, "busy", "too many recordings come in at once", "try again in a minute"}));
    struct Slot {
      std::counting_semaphore<uploads_at_once>& slots;
      ~Slot() { slots.release(); }
    } const slot{slots_};
    const std::unique_ptr<Arriving> file = service_.upload();
    if (file == nullptr)
      return answer(response,
                    refused({500, "disk", "the upload cannot be kept", "make room where recordings are kept"}));
    const auto end = std::chrono::steady_clock::now() + upload_time;
    std::uint64_t arrived = 0;
    const bool whole = reader([&](const char* bytes, std::size_t count) {
      arrived += count;
      return std::chrono::steady_clock::now() < end && file->add(bytes, count);
    });
    if (!whole || std::to_string(arrived) != request.get_header_value("Content-Length"))
      return answer(response,
                    refused({400, "cut_short", "the upload did not arrive whole, or in time", "send it again"}));
    answer(response, file->use(parameters_of(request)));
  }

  Service& service_;
  AccessRules access_;
  OneRequestServer server_;
  std::atomic<bool> stopping_ = false;
  std::atomic<int> streams_ = 0;
  std::counting_semaphore<uploads_at_once> slots_{uploads_at_once};
  std::jthread thread_;  // last: ends before what it uses
};

}  // namespace

}  // namespace counterspot

extern "C" __attribute__((visibility("default"))) void counterspot_serve(
    const counterspot::ServerOptions& options, counterspot::Service& service,
    std::unique_ptr<counterspot::PageServer>& server) {
  server = std::make_unique<counterspot::Serving>(options, service);
}
