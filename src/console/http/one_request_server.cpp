#include "console/http/one_request_server.hpp"

#include <sys/socket.h>

#include <algorithm>
#include <system_error>

#include "console/http/access.hpp"

namespace counterspot {

namespace {

/// A connection that was accepted only begins to arrive, which takes no time.
class AtOnce final : public httplib::TaskQueue {
 public:
  void enqueue(std::function<void()> work) override { work(); }
  void shutdown() override {}
};

}  // namespace

OneRequestServer::OneRequestServer() : arrivals_({}, [this](Arrived& arrived) { return accept(arrived); }) {
  // NOLINTNEXTLINE(cppcoreguidelines-owning-memory): the library owns the queue and deletes it
  new_task_queue = [] { return new AtOnce; };
}

void OneRequestServer::lengthen_queue() {
  ::listen(svr_sock_, SOMAXCONN);
}

bool OneRequestServer::process_and_close_socket(socket_t socket) {
  arrivals_.add(Socket(socket));
  return true;
}

bool OneRequestServer::has_room_for(const std::string& address) const {
  const auto count = [&](const auto& counted) {
    return static_cast<std::size_t>(
        std::count_if(answered_.begin(), answered_.end(), [&](const auto& each) { return counted(each.second); }));
  };
  const std::size_t here = count([](const std::string& from) { return is_loopback(from); });
  if (is_loopback(address)) return here < limits_.most_from_here;
  return answered_.size() - here < limits_.most_from_others &&
         count([&](const std::string& from) { return from == address; }) < limits_.most_from_one;
}

bool OneRequestServer::accept(Arrived& arrived) {
  const std::scoped_lock lock(mutex_);
  if (ending_ || !has_room_for(arrived.address)) return false;
  const socket_t number = arrived.socket.number();
  answered_.emplace(number, arrived.address);
  try {
    std::thread([this, taken = std::move(arrived)]() mutable { answer(std::move(taken)); }).detach();
  } catch (const std::system_error&) {  // no more threads: its socket was closed
    answered_.erase(number);
  }
  return true;
}

void OneRequestServer::answer(Arrived arrived) {
  {
    bool closed = false;
    Connection connection(arrived, {});
    process_request(connection, true, closed, nullptr);
  }
  const std::scoped_lock lock(mutex_);
  answered_.erase(arrived.socket.number());
  arrivals_.finish(std::move(arrived));
  changed_.notify_all();  // under the lock: whoever waits may then destroy it
}

void OneRequestServer::end() {
  std::unique_lock lock(mutex_);
  ending_ = true;
  for (const auto& [socket, address] : answered_) ::shutdown(socket, SHUT_RD);
  changed_.wait(lock, [this] { return answered_.empty(); });
}

}  // namespace counterspot
