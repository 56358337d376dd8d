#include "console/http/connection.hpp"

#include <fmt/format.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>

namespace counterspot {

namespace {

namespace chrono = std::chrono;

void refuse(Connection& connection, const char* status, const char* code, const char* message) {
  const std::string body =
      fmt::format(R"({{"code":"{}","message":"{}","remedy":"load the page again"}})", code, message);
  const std::string answer =
      fmt::format("HTTP/1.1 {}\r\nConnection: close\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n{}",
                  status, body.size(), body);
  connection.write(answer.data(), answer.size());
}

}  // namespace

Connection::Connection(socket_t socket, const ConnectionLimits& limits) : socket_(socket), limits_(limits) {}

/// A connection that is closed on a sender who still sends is reset, and the answer lost: RFC 9112, 9.6.
Connection::~Connection() {
  ::shutdown(socket_, SHUT_WR);
  const auto until = Clock::now() + limits_.last_words;
  std::array<char, 16384> unread{};
  while (receive(unread.data(), unread.size(), until) > 0) {
  }
  ::close(socket_);
}

Connection::Head Connection::read_head() {
  const auto until = Clock::now() + limits_.head_time;
  std::array<char, 4096> part{};
  while (head_.find("\r\n\r\n") == std::string::npos) {
    if (head_.size() >= limits_.head_bytes) return Head::too_large;
    const std::size_t room = std::min(part.size(), limits_.head_bytes - head_.size());
    const ssize_t got = receive(part.data(), room, until);
    if (got <= 0) return Clock::now() >= until ? Head::too_slow : Head::gone;
    head_.append(part.data(), static_cast<std::size_t>(got));
  }
  const auto end = head_.begin() + static_cast<std::ptrdiff_t>(head_.find("\r\n\r\n"));
  body_begin_ = Clock::now();
  return std::count(head_.begin(), end, '\n') > static_cast<std::ptrdiff_t>(limits_.header_lines) ? Head::too_large
                                                                                                  : Head::whole;
}

bool Connection::ready(short what, Clock::time_point until) const {
  for (;;) {
    const auto left = chrono::ceil<chrono::milliseconds>(until - Clock::now());
    pollfd asked{socket_, what, 0};
    const int got = ::poll(&asked, 1, static_cast<int>(std::max<std::int64_t>(0, left.count())));
    if (got < 0 && errno == EINTR) continue;
    return got > 0;
  }
}

ssize_t Connection::receive(char* bytes, std::size_t size, Clock::time_point until) const {
  for (;;) {
    if (!ready(POLLIN, std::min(until, Clock::now() + limits_.silence))) return -1;
    const ssize_t got = ::recv(socket_, bytes, size, MSG_DONTWAIT);
    if (got >= 0 || (errno != EINTR && errno != EAGAIN)) return got;
  }
}

bool Connection::is_readable() const {
  return given_ < head_.size() || ready(POLLIN, Clock::now() + limits_.silence);
}

bool Connection::is_writable() const {
  char peeked = 0;
  return ready(POLLOUT, Clock::now() + limits_.silence) &&
         (::recv(socket_, &peeked, 1, MSG_PEEK | MSG_DONTWAIT) > 0 || errno == EAGAIN);
}

ssize_t Connection::read(char* bytes, std::size_t size) {
  if (given_ < head_.size()) {
    const std::size_t count = std::min(size, head_.size() - given_);
    std::copy_n(head_.begin() + static_cast<std::ptrdiff_t>(given_), count, bytes);
    given_ += count;
    return static_cast<ssize_t>(count);
  }
  const chrono::duration<double> earned(body_bytes_ / limits_.least_bytes_per_s);
  const auto until = body_begin_ + limits_.body_time + chrono::duration_cast<Clock::duration>(earned);
  const ssize_t got = receive(bytes, size, until);
  if (got > 0) body_bytes_ += static_cast<double>(got);
  return got;
}

ssize_t Connection::write(const char* bytes, std::size_t size) {
  for (;;) {
    if (!ready(POLLOUT, Clock::now() + limits_.silence)) return -1;
    const ssize_t put = ::send(socket_, bytes, size, MSG_NOSIGNAL | MSG_DONTWAIT);
    if (put >= 0 || (errno != EINTR && errno != EAGAIN)) return put;
  }
}

void Connection::get_remote_ip_and_port(std::string& /*ip*/, int& /*port*/) const {}
void Connection::get_local_ip_and_port(std::string& /*ip*/, int& /*port*/) const {}

bool OneRequestServer::process_and_close_socket(socket_t socket) {
  Connection connection(socket, {});
  switch (connection.read_head()) {
    case Connection::Head::too_large:
      refuse(connection, "431 Request Header Fields Too Large", "head_too_large",
             "the head of the request is too large");
      return false;
    case Connection::Head::too_slow:
      refuse(connection, "408 Request Timeout", "too_slow", "the request did not arrive in time");
      return false;
    case Connection::Head::gone: return false;
    case Connection::Head::whole: break;
  }
  bool closed = false;
  return process_request(connection, true, closed, nullptr);
}

}  // namespace counterspot
