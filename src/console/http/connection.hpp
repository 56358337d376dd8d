#pragma once

#include <httplib.h>

#include <chrono>
#include <string>

namespace counterspot {

/// How much a client may say before it has said anything, and how slowly.
struct ConnectionLimits {
  std::size_t head_bytes = 16 * 1024;
  std::size_t header_lines = 64;
  std::chrono::milliseconds head_time{10'000};  ///< for the whole head, from the first moment
  std::chrono::milliseconds body_time{10'000};  ///< for the body, and besides
  double least_bytes_per_s = 64.0 * 1024;       ///< as long as this pace allows
  std::chrono::milliseconds silence{5'000};     ///< without a byte, either way
  std::chrono::milliseconds last_words{500};    ///< a refused sender may go on for, so that it reads the answer
};

/// One connection. The HTTP library would take headers without number and wait for each byte anew; so the head is read
/// here, under limits, and the library gets what is left.
class Connection final : public httplib::Stream {
 public:
  Connection(socket_t socket, const ConnectionLimits& limits);
  Connection(const Connection&) = delete;
  Connection& operator=(const Connection&) = delete;
  Connection(Connection&&) = delete;
  Connection& operator=(Connection&&) = delete;
  ~Connection() override;  ///< closes it

  enum class Head { whole, too_large, too_slow, gone };
  Head read_head();

  bool is_readable() const override;
  bool is_writable() const override;
  ssize_t read(char* bytes, std::size_t size) override;
  ssize_t write(const char* bytes, std::size_t size) override;
  void get_remote_ip_and_port(std::string& ip, int& port) const override;  ///< nobody asks: nothing
  void get_local_ip_and_port(std::string& ip, int& port) const override;   ///< likewise
  socket_t socket() const override { return socket_; }

 private:
  using Clock = std::chrono::steady_clock;
  ssize_t receive(char* bytes, std::size_t size, Clock::time_point until) const;
  bool ready(short what, Clock::time_point until) const;

  socket_t socket_;
  ConnectionLimits limits_;
  std::string head_;       // and what came with it
  std::size_t given_ = 0;  // of it, to the library
  Clock::time_point body_begin_;
  double body_bytes_ = 0.0;
};

/// The HTTP library's server on such connections, one request on each.
class OneRequestServer final : public httplib::Server {
 private:
  bool process_and_close_socket(socket_t socket) override;
};

}  // namespace counterspot
