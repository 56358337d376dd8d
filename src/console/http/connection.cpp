#include "console/http/connection.hpp"

#include <arpa/inet.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>

namespace counterspot {

namespace chrono = std::chrono;

Socket::~Socket() {
  if (number_ >= 0) ::close(number_);
}

std::string address_of(const Socket& socket) {
  sockaddr_storage other{};
  socklen_t size = sizeof other;
  std::array<char, INET6_ADDRSTRLEN> text{};
  if (::getpeername(socket.number(), reinterpret_cast<sockaddr*>(&other), &size) != 0) return "";
  const void* number = &reinterpret_cast<const sockaddr_in*>(&other)->sin_addr;
  if (other.ss_family == AF_INET6) number = &reinterpret_cast<const sockaddr_in6*>(&other)->sin6_addr;
  if (::inet_ntop(other.ss_family, number, text.data(), text.size()) == nullptr) return "";
  const std::string address = text.data();
  return address.starts_with("::ffff:") ? address.substr(7) : address;
}

/// @param flow is charged with the time; false: it has none left.
bool Connection::wait_for(short what, Flow& flow) const {
  const auto earned =
      chrono::duration_cast<Clock::duration>(chrono::duration<double>(flow.bytes / pace_.least_bytes_per_s));
  const auto left = std::min<Clock::duration>(pace_.silence, pace_.patience + earned - flow.waited);
  const auto begin = Clock::now();
  pollfd asked{socket(), what, 0};
  int got = -1;
  do {
    const auto still = chrono::ceil<chrono::milliseconds>(begin + left - Clock::now()).count();
    got = ::poll(&asked, 1, static_cast<int>(std::max<std::int64_t>(0, still)));
  } while (got < 0 && errno == EINTR);
  flow.waited += Clock::now() - begin;
  return got > 0;
}

template <typename Move>
ssize_t Connection::move(short what, Flow& flow, Move move) const {
  for (;;) {
    if (!wait_for(what, flow)) return -1;
    const ssize_t moved = move();
    if (moved > 0) flow.bytes += static_cast<double>(moved);
    if (moved >= 0 || (errno != EINTR && errno != EAGAIN)) return moved;
  }
}

bool Connection::is_readable() const {
  return given_ < arrived_.text.size() || wait_for(POLLIN, in_);
}

bool Connection::is_writable() const {
  char peeked = 0;
  return wait_for(POLLOUT, out_) && (::recv(socket(), &peeked, 1, MSG_PEEK | MSG_DONTWAIT) > 0 || errno == EAGAIN);
}

ssize_t Connection::read(char* bytes, std::size_t size) {
  if (given_ == arrived_.text.size())
    return move(POLLIN, in_, [&] { return ::recv(socket(), bytes, size, MSG_DONTWAIT); });
  const std::size_t count = arrived_.text.copy(bytes, size, given_);
  given_ += count;
  return static_cast<ssize_t>(count);
}

ssize_t Connection::write(const char* bytes, std::size_t size) {
  return move(POLLOUT, out_, [&] { return ::send(socket(), bytes, size, MSG_NOSIGNAL | MSG_DONTWAIT); });
}

void Connection::get_remote_ip_and_port(std::string& ip, int& /*port*/) const {
  ip = arrived_.address;
}
void Connection::get_local_ip_and_port(std::string& /*ip*/, int& /*port*/) const {}

}  // namespace counterspot
