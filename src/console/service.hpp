#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <string>

namespace counterspot {

/// What the page's server (a part of its own, see http/) and the rest of the console know of one another.

using Parameters = std::map<std::string, std::string>;  ///< of a request's address

struct Reply {
  std::string body;
  std::string kind = "application/json";
  int status = 200;
};

/// An upload as it comes in; what came is gone with it, unless it was used.
class Arriving {
 public:
  Arriving() = default;
  Arriving(const Arriving&) = delete;
  Arriving& operator=(const Arriving&) = delete;
  Arriving(Arriving&&) = delete;
  Arriving& operator=(Arriving&&) = delete;
  virtual ~Arriving() = default;
  virtual bool add(const char* bytes, std::size_t count) = 0;  ///< false: no more is taken
  virtual Reply use(const Parameters& parameters) = 0;         ///< all of it is there
};

/// Answers, to many threads, and throws nothing: what goes wrong is an answer too.
class Service {
 public:
  Service() = default;
  Service(const Service&) = delete;
  Service& operator=(const Service&) = delete;
  Service(Service&&) = delete;
  Service& operator=(Service&&) = delete;
  virtual ~Service() = default;
  virtual Reply query(const std::string& path, const Parameters& parameters) = 0;  ///< changes nothing
  virtual Reply command(const std::string& path, const Parameters& parameters, const std::string& body) = 0;
  virtual std::unique_ptr<Arriving> upload() = 0;  ///< empty: there is no room for it
  /// Waits, half a second at most, for something newer than `news`; one event's data.
  virtual std::string event(const Parameters& parameters, std::uint64_t& news) = 0;
  virtual Reply refusal(const std::string& code, const std::string& message, const std::string& remedy, int status) = 0;
};

/// Where to serve, and to whom.
struct ServerOptions {
  std::string address;        ///< numeric
  int port = 0;               ///< 0: any free one
  std::string token;          ///< empty: none is asked for
  std::string session;        ///< what who has shown it is known by, for as long as the server lives
  std::string watch_token;    ///< of who may only look on; empty: there is none
  std::string watch_session;  ///< what who has shown that one is known by
  std::uint64_t most_upload_bytes = 0;
};

/// Serves while it lives.
class PageServer {
 public:
  PageServer() = default;
  PageServer(const PageServer&) = delete;
  PageServer& operator=(const PageServer&) = delete;
  PageServer(PageServer&&) = delete;
  PageServer& operator=(PageServer&&) = delete;
  virtual ~PageServer() = default;
  virtual int port() const = 0;
};

/// The part's one function, "counterspot_serve". @throws Error(request, …) "bad_address", "needs_token", "short_token",
/// "bad_token"; Error(machine, "port_taken").
using Serve = void (*)(const ServerOptions& options, Service& service, std::unique_ptr<PageServer>& server);

}  // namespace counterspot
