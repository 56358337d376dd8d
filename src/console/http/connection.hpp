#pragma once

#include <httplib.h>

#include <chrono>
#include <string>
#include <utility>

namespace counterspot {

/// A socket that is closed with its owner.
class Socket {
 public:
  explicit Socket(socket_t number) : number_(number) {}
  Socket(Socket&& other) noexcept : number_(std::exchange(other.number_, -1)) {}
  Socket& operator=(Socket&& other) noexcept {
    std::swap(number_, other.number_);
    return *this;
  }
  Socket(const Socket&) = delete;
  Socket& operator=(const Socket&) = delete;
  ~Socket();
  socket_t number() const { return number_; }

 private:
  socket_t number_;
};

/// The other side's numeric address; that of IPv4 also where it comes in by IPv6.
std::string address_of(const Socket& socket);

/// A connection whose request is there: all of it, but for the body of an upload.
struct Arrived {
  Socket socket;
  std::string address;
  std::string text;  ///< the head and what came with it
};

/// How slowly a client may send a body and take an answer.
struct Pace {
  std::chrono::milliseconds patience{10'000};  ///< for all of it, and besides
  double least_bytes_per_s = 64.0 * 1024;      ///< as long as this pace allows
  std::chrono::milliseconds silence{5'000};    ///< without a byte
};

/// One connection. The HTTP library would take headers without number and wait for each byte anew; so it gets what has
/// arrived, and what is still to come under a limit on the whole of it.
class Connection final : public httplib::Stream {
 public:
  Connection(const Arrived& arrived, const Pace& pace) : arrived_(arrived), pace_(pace) {}

  bool is_readable() const override;
  bool is_writable() const override;
  ssize_t read(char* bytes, std::size_t size) override;
  ssize_t write(const char* bytes, std::size_t size) override;
  void get_remote_ip_and_port(std::string& ip, int& port) const override;
  void get_local_ip_and_port(std::string& ip, int& port) const override;  ///< nobody asks: nothing
  socket_t socket() const override { return arrived_.socket.number(); }

 private:
  using Clock = std::chrono::steady_clock;
  /// What a direction has carried, and how long it was waited for.
  struct Flow {
    double bytes = 0.0;
    Clock::duration waited{0};
  };
  bool wait_for(short what, Flow& flow) const;
  template <typename Move>
  ssize_t move(short what, Flow& flow, Move move) const;

  const Arrived& arrived_;
  Pace pace_;
  std::size_t given_ = 0;  // of what has arrived, to the library
  mutable Flow in_, out_;
};

}  // namespace counterspot
