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

/// A server may pass over a wish for parts (RFC 9110, 14.2); the HTTP library would make as many as are named.
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

Arrivals::Arrivals(const ArrivalLimits& limits, Take take)
    : limits_(limits),
      take_(std::move(take)),
      wake_(::eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK)),
      thread_([this](const std::stop_token& stop) { run(stop); }) {}

Arrivals::~Arrivals() {
  thread_.request_stop();
  ::eventfd_write(wake_.number(), 1);
}

void Arrivals::come(Socket socket) {
  std::string address = address_of(socket);
  enter({{std::move(socket), std::move(address), ""}, Clock::now() + limits_.head_time, 0, false});
}

/// A connection that is closed on a sender who still sends is reset, and the answer lost: RFC 9112, 9.6.
void Arrivals::leave(Arrived answered) {
  Guest guest{std::move(answered), {}, 0, true};
  send_off(guest);
  enter(std::move(guest));
}

void Arrivals::enter(Guest guest) {
  const std::scoped_lock lock(mutex_);
  newcomers_.push_back(std::move(guest));
  ::eventfd_write(wake_.number(), 1);
}

void Arrivals::run(const std::stop_token& stop) {
  std::vector<socket_t> readable;
  while (!stop.stop_requested()) {
    admit();
    wait(readable);
    const auto now = Clock::now();
    for (auto guest = guests_.begin(); guest != guests_.end();) {
      const bool heard = std::find(readable.begin(), readable.end(), guest->arrived.socket.number()) != readable.end();
      bool stays = true;
      if (heard) {
        stays = hear(*guest);
      } else if (guest->until <= now) {
        stays = !guest->leaving && refuse(*guest, "408 Request Timeout", "too_slow",
                                          "the request did not arrive in time", "load the page again");
      }
      guest = stays ? std::next(guest) : guests_.erase(guest);
    }
  }
}

void Arrivals::admit() {
  std::list<Guest> newcomers;
  {
    const std::scoped_lock lock(mutex_);
    newcomers.swap(newcomers_);
  }
  while (!newcomers.empty()) {
    give_way(newcomers.front().arrived.address);
    guests_.splice(guests_.end(), newcomers, newcomers.begin());
  }
}

void Arrivals::give_way(const std::string& newcomer) {
  const auto from_there = [&](const Guest& guest) { return guest.arrived.address == newcomer; };
  const auto from_others = [](const Guest& guest) { return !is_loopback(guest.arrived.address); };
  const auto count = static_cast<std::size_t>(std::count_if(guests_.begin(), guests_.end(), from_there));
  if (!is_loopback(newcomer) && count >= limits_.most_from_one)
    guests_.erase(std::find_if(guests_.begin(), guests_.end(), from_there));
  if (guests_.size() < limits_.most) return;
  const auto other = std::find_if(guests_.begin(), guests_.end(), from_others);
  guests_.erase(other != guests_.end() ? other : guests_.begin());
}

/// For news of somebody, until the first has waited long enough.
void Arrivals::wait(std::vector<socket_t>& readable) const {
  std::vector<pollfd> asked{{wake_.number(), POLLIN, 0}};
  auto first = Clock::now() + chrono::hours(1);
  for (const Guest& guest : guests_) {
    asked.push_back({guest.arrived.socket.number(), POLLIN, 0});
    first = std::min(first, guest.until);
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
bool Arrivals::hear(Guest& guest) {
  std::array<char, 16384> part{};
  const std::size_t room =
      guest.leaving || guest.whole > 0 ? part.size() : limits_.head_bytes - guest.arrived.text.size();
  const ssize_t got = ::recv(guest.arrived.socket.number(), part.data(), std::min(part.size(), room), MSG_DONTWAIT);
  if (got <= 0) return got < 0 && (errno == EAGAIN || errno == EINTR);
  if (guest.leaving) return Clock::now() < guest.until;
  guest.arrived.text.append(part.data(), static_cast<std::size_t>(got));
  return weigh(guest);
}

bool Arrivals::weigh(Guest& guest) {
  std::string& text = guest.arrived.text;
  if (guest.whole == 0) {
    const auto blank = text.find("\r\n\r\n");
    const auto lines =
        std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(std::min(blank, text.size())), '\n');
    if (static_cast<std::size_t>(lines) > limits_.header_lines ||
        (blank == std::string::npos && text.size() >= limits_.head_bytes))
      return refuse(guest, "431 Request Header Fields Too Large", "head_too_large",
                    "the head of the request is too large", "load the page again");
    if (blank == std::string::npos) return true;
    const auto head_bytes = without_ranges(text, blank + 4);
    guest.whole = head_bytes + short_body_of(std::string_view(text).substr(0, head_bytes), limits_.body_bytes);
    guest.until = Clock::now() + limits_.body_time;
  }
  if (text.size() < guest.whole) return true;
  return !take_(guest.arrived) &&
         refuse(guest, "503 Service Unavailable", "busy", "too many requests come in at once", "try again in a moment");
}

/// The answer fits into any socket's buffer. Then it may go.
bool Arrivals::refuse(Guest& guest, const char* status, const char* code, const char* message,
                      const char* remedy) const {
  const std::string body = fmt::format(R"({{"code":"{}","message":"{}","remedy":"{}"}})", code, message, remedy);
  const std::string answer =
      fmt::format("HTTP/1.1 {}\r\nConnection: close\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n{}",
                  status, body.size(), body);
  ::send(guest.arrived.socket.number(), answer.data(), answer.size(), MSG_NOSIGNAL | MSG_DONTWAIT);
  return send_off(guest);
}

bool Arrivals::send_off(Guest& guest) const {
  ::shutdown(guest.arrived.socket.number(), SHUT_WR);
  guest.arrived.text.clear();
  guest.leaving = true;
  guest.until = Clock::now() + limits_.last_words;
  return true;
}

}  // namespace counterspot
