#include "console/http/arrivals.hpp"

#include <fmt/format.h>
#include <poll.h>
#include <strings.h>
#include <sys/eventfd.h>
#include <sys/socket.h>

#include <algorithm>
#include <array>
#include <charconv>

#include "console/http/access.hpp"

namespace counterspot {

namespace {

namespace chrono = std::chrono;

/// What follows "name:" if the line is that header's.
std::optional<std::string_view> value_in(std::string_view line, std::string_view name) {
  const bool named = line.size() > name.size() && line[name.size()] == ':' &&
                     ::strncasecmp(line.data(), name.data(), name.size()) == 0;
  if (!named) return std::nullopt;
  const auto begin = line.find_first_not_of(" \t", name.size() + 1);
  return begin == std::string_view::npos ? "" : line.substr(begin);
}

/// What a request's head says of its body, if that is short enough to be waited for here. An upload's never is.
std::size_t short_body_of(std::string_view head, std::size_t most) {
  if (head.starts_with(std::string("POST ") + upload_path)) return 0;
  for (std::size_t at = 0; at < head.size();) {
    const auto end = std::min(head.find('\n', at), head.size());
    if (const auto value = value_in(head.substr(at, end - at), "Content-Length")) {
      std::size_t bytes = 0;
      std::from_chars(value->data(), value->data() + value->size(), bytes);
      return bytes <= most ? bytes : 0;
    }
    at = end + 1;
  }
  return 0;
}

/// A server may pass over a request for parts (RFC 9110, 14.2); the HTTP library would make as many as are named.
/// @return how long the head is without it.
std::size_t without_ranges(std::string& text, std::size_t head_bytes) {
  for (std::size_t at = 0; at < head_bytes;) {
    const auto end = text.find('\n', at) + 1;
    if (value_in(std::string_view(text).substr(at, end - at), "Range")) {
      text.erase(at, end - at);
      head_bytes -= end - at;
    } else {
      at = end;
    }
  }
  return head_bytes;
}

}  // namespace

Arrivals::Arrivals(const ArrivalLimits& limits, Accept accept)
    : limits_(limits),
      accept_(std::move(accept)),
      wake_(::eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK)),
      thread_([this](const std::stop_token& stop) { run(stop); }) {}

Arrivals::~Arrivals() {
  thread_.request_stop();
  ::eventfd_write(wake_.number(), 1);
}

void Arrivals::add(Socket socket) {
  std::string address = address_of(socket);
  enter({{std::move(socket), std::move(address), ""}, Clock::now() + limits_.head_time, 0, false});
}

/// A connection that is closed on a sender who still sends is reset, and the answer lost: RFC 9112, 9.6.
void Arrivals::finish(Arrived answered) {
  Pending pending{std::move(answered), {}, 0, true};
  end_answer(pending);
  enter(std::move(pending));
}

void Arrivals::enter(Pending pending) {
  const std::scoped_lock lock(mutex_);
  accepted_.push_back(std::move(pending));
  ::eventfd_write(wake_.number(), 1);
}

void Arrivals::run(const std::stop_token& stop) {
  std::vector<socket_t> readable;
  while (!stop.stop_requested()) {
    admit();
    wait(readable);
    const auto now = Clock::now();
    for (auto pending = pending_.begin(); pending != pending_.end();) {
      const bool heard =
          std::find(readable.begin(), readable.end(), pending->arrived.socket.number()) != readable.end();
      bool stays = true;
      if (heard) {
        stays = receive(*pending);
      } else if (pending->until <= now) {
        stays = !pending->leaving && refuse(*pending, "408 Request Timeout", "too_slow",
                                            "the request did not arrive in time", "load the page again");
      }
      pending = stays ? std::next(pending) : pending_.erase(pending);
    }
  }
}

void Arrivals::admit() {
  std::list<Pending> accepted;
  {
    const std::scoped_lock lock(mutex_);
    accepted.swap(accepted_);
  }
  while (!accepted.empty()) {
    make_room(accepted.front().arrived.address);
    pending_.splice(pending_.end(), accepted, accepted.begin());
  }
}

void Arrivals::make_room(const std::string& address) {
  const auto from_there = [&](const Pending& pending) { return pending.arrived.address == address; };
  const auto from_others = [](const Pending& pending) { return !is_loopback(pending.arrived.address); };
  const auto count = static_cast<std::size_t>(std::count_if(pending_.begin(), pending_.end(), from_there));
  if (!is_loopback(address) && count >= limits_.most_from_one)
    pending_.erase(std::find_if(pending_.begin(), pending_.end(), from_there));
  if (pending_.size() < limits_.most) return;
  const auto other = std::find_if(pending_.begin(), pending_.end(), from_others);
  pending_.erase(other != pending_.end() ? other : pending_.begin());
}

/// For news of somebody, until the first has waited long enough.
void Arrivals::wait(std::vector<socket_t>& readable) const {
  std::vector<pollfd> asked{{wake_.number(), POLLIN, 0}};
  auto first = Clock::now() + chrono::hours(1);
  for (const Pending& pending : pending_) {
    asked.push_back({pending.arrived.socket.number(), POLLIN, 0});
    first = std::min(first, pending.until);
  }
  const auto left = chrono::ceil<chrono::milliseconds>(first - Clock::now()).count();
  readable.clear();
  if (::poll(asked.data(), asked.size(), static_cast<int>(std::max<std::int64_t>(0, left))) <= 0) return;
  eventfd_t ignored = 0;
  if (asked.front().revents != 0) ::eventfd_read(wake_.number(), &ignored);
  for (auto each = asked.begin() + 1; each != asked.end(); ++each)
    if (each->revents != 0) readable.push_back(each->fd);
}

/// False: it is gone, or somebody answers it.
bool Arrivals::receive(Pending& pending) {
  std::array<char, 16384> part{};
  const std::size_t room =
      pending.leaving || pending.whole > 0 ? part.size() : limits_.head_bytes - pending.arrived.text.size();
  const ssize_t got = ::recv(pending.arrived.socket.number(), part.data(), std::min(part.size(), room), MSG_DONTWAIT);
  if (got <= 0) return got < 0 && (errno == EAGAIN || errno == EINTR);
  if (pending.leaving) return Clock::now() < pending.until;
  pending.arrived.text.append(part.data(), static_cast<std::size_t>(got));
  return examine(pending);
}

bool Arrivals::examine(Pending& pending) {
  std::string& text = pending.arrived.text;
  if (pending.whole == 0) {
    const auto blank = text.find("\r\n\r\n");
    const auto lines =
        std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(std::min(blank, text.size())), '\n');
    if (static_cast<std::size_t>(lines) > limits_.header_lines ||
        (blank == std::string::npos && text.size() >= limits_.head_bytes))
      return refuse(pending, "431 Request Header Fields Too Large", "head_too_large",
                    "the head of the request is too large", "load the page again");
    if (blank == std::string::npos) return true;
    const auto head_bytes = without_ranges(text, blank + 4);
    pending.whole = head_bytes + short_body_of(std::string_view(text).substr(0, head_bytes), limits_.body_bytes);
    pending.until = Clock::now() + limits_.body_time;
  }
  if (text.size() < pending.whole) return true;
  return !accept_(pending.arrived) && refuse(pending, "503 Service Unavailable", "busy",
                                             "too many requests come in at once", "try again in a moment");
}

/// The answer fits into any socket's buffer. Then it may go.
bool Arrivals::refuse(Pending& pending, const char* status, const char* code, const char* message,
                      const char* remedy) const {
  const std::string body = fmt::format(R"({{"code":"{}","message":"{}","remedy":"{}"}})", code, message, remedy);
  const std::string answer =
      fmt::format("HTTP/1.1 {}\r\nConnection: close\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n{}",
                  status, body.size(), body);
  ::send(pending.arrived.socket.number(), answer.data(), answer.size(), MSG_NOSIGNAL | MSG_DONTWAIT);
  return end_answer(pending);
}

bool Arrivals::end_answer(Pending& pending) const {
  ::shutdown(pending.arrived.socket.number(), SHUT_WR);
  pending.arrived.text.clear();
  pending.leaving = true;
  pending.until = Clock::now() + limits_.last_words;
  return true;
}

}  // namespace counterspot
