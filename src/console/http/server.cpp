#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <thread>

#include "console/http/access.hpp"
#include "console/http/guesses.hpp"
#include "console/http/one_request_server.hpp"
#include "console/service.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

// NIST SP 800-63B-4, 3.1.1.2, of passwords that nothing else stands beside (from memory).
constexpr std::size_t least_token_characters = 15;
constexpr std::size_t most_token_characters = 256;
constexpr std::chrono::seconds upload_time{120};
constexpr std::chrono::milliseconds stream_every{30};  // as often as the tracker reads

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

/// So many of a kind at once, counted apart for this machine, whose page is served whoever else comes.
class Places {
 public:
  Places(int here, int others) : left_here_(here), left_others_(others) {}
  /// Empty: all are taken. The place is free again with the last copy.
  std::shared_ptr<void> admit(const httplib::Request& request) {
    std::atomic<int>& left = is_loopback(request.remote_addr) ? left_here_ : left_others_;
    std::shared_ptr<void> place(&left, [](void* taken) { ++*static_cast<std::atomic<int>*>(taken); });
    return left-- > 0 ? place : nullptr;
  }

 private:
  std::atomic<int> left_here_, left_others_;
};

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
    server_.lengthen_queue();
    access_ = {
        options.address,          port, options.token, options.session, options.watch_token, options.watch_session,
        options.most_upload_bytes};
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
    server_.end();
  }

  int port() const override { return access_.port; }

 private:
  static void check_token(const std::string& token) {
    const bool plain = std::none_of(token.begin(), token.end(), [](unsigned char c) { return c < ' ' || c == 0x7F; });
    if (!plain || token.size() > most_token_characters)
      throw Error(Trouble::request, "bad_token",
                  fmt::format("a token has no control characters and at most {} bytes", most_token_characters),
                  "write another one, or --token new");
  }

  static void check(const ServerOptions& options) {
    if (!is_numeric_address(options.address))
      throw Error(Trouble::request, "bad_address", fmt::format("'{}' is not a numeric address", options.address),
                  "write it as in 127.0.0.1");
    const std::string& token = options.token;
    const std::string& watch = options.watch_token;
    check_token(token);
    check_token(watch);
    if (!watch.empty() && (token.empty() || watch == token))
      throw Error(Trouble::request, "bad_token", "who only looks on has a token beside that of who works, and another",
                  "write --token new --watch-token new");
    if (is_loopback(options.address)) return;
    if (token.empty())
      throw Error(Trouble::request, "needs_token", "an address that others can reach needs a token",
                  "write --token new, or a line of your own into a file and its name behind --token-file");
    if (token.size() < least_token_characters || (!watch.empty() && watch.size() < least_token_characters))
      throw Error(Trouble::request, "short_token",
                  fmt::format("a token of fewer than {} characters can be guessed", least_token_characters),
                  "write a longer one, or --token new");
  }

  void set_up() {
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

  Reply refused(const RequestRefusal& refusal) {
    return service_.refusal(refusal.code, refusal.message, refusal.remedy, refusal.status);
  }

  void get(const httplib::Request& request, httplib::Response& response) {
    if (request.path == "/" && request.has_param("token") && !access_.token.empty()) {
      enter(request, response);
    } else if (request.path == "/" && access_.only_watches(request) && !request.has_param("watch")) {
      response.set_redirect("/?watch");
    } else if (request.path == "/api/live") {
      stream(request, response);
    } else {
      answer(response, service_.query(request.path, parameters_of(request)));
    }
  }

  /// The token leaves the address bar for a cookie. Whoever is known already stays so, whatever a page of another site
  /// makes the browser show.
  void enter(const httplib::Request& request, httplib::Response& response) {
    const AccessRules::Shown shown = access_.shown(request);
    const bool more = access_.only_watches(request) && shown == AccessRules::Shown::token;
    if (!access_.is_known(request) || more) {
      switch (guesses_.guess(request.remote_addr, shown != AccessRules::Shown::none, Guesses::Clock::now())) {
        case Guesses::Outcome::wrong:
          return answer(response, refused({401, "wrong_token", "this is not the console's token",
                                           "open the address that the program printed"}));
        case Guesses::Outcome::too_soon:
          return answer(response, refused({429, "too_many_guesses", "too many wrong tokens came from this address",
                                           "wait a minute, then open the address that the program printed"}));
        case Guesses::Outcome::right: response.set_header("Set-Cookie", access_.cookie(shown)); break;
      }
    }
    response.set_redirect("/");
  }

  /// Server-sent events (HTML Living Standard, 9.2): one now, one with every change, and at least one each second, so
  /// that the page sees that it is heard, and a client that went is noticed. At most one each 30 ms.
  void stream(const httplib::Request& request, httplib::Response& response) {
    const auto place = streams_.admit(request);
    if (!place) {
      answer(response, refused({503, "too_many_screens", "too many screens follow the rig", "close some of them"}));
      return;
    }
    auto news = std::make_shared<std::uint64_t>(~std::uint64_t{0});
    response.set_chunked_content_provider("text/event-stream", [this, news, place, parameters = parameters_of(request)](
                                                                   std::size_t /*offset*/, httplib::DataSink& sink) {
      const std::string event = "retry: 1000\ndata: " + service_.event(parameters, *news) + "\n\n";
      if (stopping_ || !sink.write(event.data(), event.size())) return false;
      std::this_thread::sleep_for(stream_every);
      return !stopping_.load();
    });
  }

  void upload(const httplib::Request& request, httplib::Response& response, const httplib::ContentReader& reader) {
    const auto place = uploads_.admit(request);
    if (!place)
      return answer(response, refused({503, "busy", "too many recordings come in at once", "try again in a minute"}));
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
  Guesses guesses_;
  std::atomic<bool> stopping_ = false;
  Places streams_{80, 40};
  Places uploads_{16, 8};
  OneRequestServer server_;
  std::jthread thread_;  // last: ends before what it uses
};

}  // namespace

}  // namespace counterspot

extern "C" __attribute__((visibility("default"))) void counterspot_serve(
    const counterspot::ServerOptions& options, counterspot::Service& service,
    std::unique_ptr<counterspot::PageServer>& server) {
  server = std::make_unique<counterspot::Serving>(options, service);
}
