#pragma once

#include <condition_variable>
#include <map>
#include <mutex>
#include <string>

#include "console/http/arrivals.hpp"

namespace counterspot {

/// How many requests are answered at once, each on a thread of its own. Those of this machine are counted apart, so
/// that its own page is answered whoever else comes.
struct AnswerLimits {
  std::size_t most_from_here = 128;
  std::size_t most_from_others = 64;
  std::size_t most_from_one = 24;  ///< address of others
};

/// The HTTP library's server, one request on each connection, which is answered once it has arrived.
class OneRequestServer final : public httplib::Server {
 public:
  OneRequestServer();
  OneRequestServer(const OneRequestServer&) = delete;
  OneRequestServer& operator=(const OneRequestServer&) = delete;
  OneRequestServer(OneRequestServer&&) = delete;
  OneRequestServer& operator=(OneRequestServer&&) = delete;
  ~OneRequestServer() override { end(); }

  /// Once it is bound. The library lets five connections wait to be accepted; a sixth would come again after a second.
  void lengthen_queue();
  /// Hears nobody any more and waits until what is being answered is.
  void end();

 private:
  bool process_and_close_socket(socket_t socket) override;
  bool accept(Arrived& arrived);
  bool has_room_for(const std::string& address) const;
  void answer(Arrived arrived);

  AnswerLimits limits_;
  std::mutex mutex_;  // of the next two
  bool ending_ = false;
  std::map<socket_t, std::string> answered_;  // at this moment, and the address
  std::condition_variable changed_;
  Arrivals arrivals_;  // last: ends before what it uses
};

}  // namespace counterspot
