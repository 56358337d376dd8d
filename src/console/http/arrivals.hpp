#pragma once

#include <functional>
#include <list>
#include <mutex>
#include <thread>
#include <vector>

#include "console/http/connection.hpp"

namespace counterspot {

/// How much a client may say before it is listened to, how slowly, and how many may do so.
struct ArrivalLimits {
  std::size_t head_bytes = 16 * 1024;
  std::size_t header_lines = 64;
  std::size_t body_bytes = 64 * 1024;           ///< a longer body is left to whoever answers
  std::chrono::milliseconds head_time{10'000};  ///< for the whole head
  std::chrono::milliseconds body_time{10'000};  ///< and then for the whole body
  std::chrono::milliseconds last_words{500};    ///< a sender may go on for after its answer, so that it reads it
  std::size_t most = 256;                       ///< connections here
  std::size_t most_from_one = 48;               ///< address, other than this machine
};

/// Where connections are until their request is there, and again when it was answered, until they are closed: one
/// thread for all of them, so that slow senders keep nobody from being answered. When there are too many, the oldest
/// gives way, first of those from other machines: a request that is sent at once is there before its turn comes.
class Arrivals {
 public:
  /// Accepts what has arrived to be answered, on the arrivals' thread, and must not wait. False: there is no room; then
  /// it is left as it was.
  using Accept = std::function<bool(Arrived&)>;
  Arrivals(const ArrivalLimits& limits, Accept accept);
  Arrivals(const Arrivals&) = delete;
  Arrivals& operator=(const Arrivals&) = delete;
  Arrivals(Arrivals&&) = delete;
  Arrivals& operator=(Arrivals&&) = delete;
  ~Arrivals();  ///< closes whoever is there

  void add(Socket socket);
  void finish(Arrived answered);

 private:
  using Clock = std::chrono::steady_clock;
  struct Pending {
    Arrived arrived;
    Clock::time_point until;
    std::size_t whole = 0;  // bytes of the request; 0: its head is not there yet
    bool leaving = false;
  };
  void run(const std::stop_token& stop);
  void enter(Pending pending);
  void admit();
  void make_room(const std::string& address);
  void wait(std::vector<socket_t>& readable) const;
  bool receive(Pending& pending);
  bool examine(Pending& pending);
  bool refuse(Pending& pending, const char* status, const char* code, const char* message, const char* remedy) const;
  bool end_answer(Pending& pending) const;

  ArrivalLimits limits_;
  Accept accept_;
  Socket wake_;
  std::mutex mutex_;  // of the next
  std::list<Pending> accepted_;
  std::list<Pending> pending_;  // of the thread alone; the oldest first
  std::jthread thread_;         // last: ends before what it uses
};

}  // namespace counterspot
