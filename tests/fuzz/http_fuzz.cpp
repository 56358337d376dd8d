#include <arpa/inet.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <cstdlib>

#include "counterspot/console/console.hpp"
#include "fuzz.hpp"

using namespace counterspot;

namespace {

/// The page's server as it is, on loopback, with a log of its own.
class Served {
 public:
  Served() {
    ConsoleOptions options;
    options.rig_file = fuzz::demo_folder() / "rig.toml";
    options.shafts_folder = fuzz::demo_folder();
    options.recordings_folder = fuzz::demo_folder() / "spins";
    options.most_upload_bytes = 1 << 20;
    options.program = "fuzz";
    console_ = std::make_unique<Console>(Log::open((fuzz::demo_folder() / "log.db").string(), true), options);
    const std::string url = console_->urls().front();  // http://127.0.0.1:PORT/
    host_ = url.substr(7, url.size() - 8);
  }

  const std::string& host() const { return host_; }

  std::string answer_to(const std::string& request) const {
    const int number = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_port = htons(static_cast<std::uint16_t>(std::stoi(host_.substr(host_.find(':') + 1))));
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    std::string answer;
    if (::connect(number, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0) {
      ::send(number, request.data(), request.size(), MSG_NOSIGNAL);
      ::shutdown(number, SHUT_WR);
      answer = read_from(number);
    }
    ::close(number);
    return answer;
  }

 private:
  /// To the end: what is still at work when a target returns is taken for a leak, and a fault that comes late is
  /// missed. The server ends a connection that says nothing more; on a machine that does something else as well it
  /// takes a while.
  static std::string read_from(int number) {
    std::string answer;
    char bytes[4096];
    pollfd waiting{number, POLLIN, 0};
    while (::poll(&waiting, 1, 20'000) == 1) {
      const ssize_t got = ::recv(number, bytes, sizeof bytes, 0);
      if (got <= 0) break;
      answer.append(bytes, static_cast<std::size_t>(got));
      if (answer.find("text/event-stream") != std::string::npos) break;  // has no end
    }
    return answer;
  }

  std::unique_ptr<Console> console_;
  std::string host_;
};

void replace(std::string& text, const std::string& what, const std::string& by) {
  for (auto at = text.find(what); at != std::string::npos; at = text.find(what, at + by.size()))
    text.replace(at, what.size(), by);
}

}  // namespace

/// A request as it comes over the wire. "{host}" in it stands for the server's own address, "{length}" for the length
/// of what follows the first empty line, so that more than the guard at the door is reached.
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t count) {
  static const Served served;
  std::string request(fuzz::text_of(bytes, count));
  replace(request, "{host}", served.host());
  const auto blank = request.find("\r\n\r\n");
  replace(request, "{length}", std::to_string(blank == std::string::npos ? 0 : request.size() - blank - 4));
  const std::string answer = served.answer_to(request);
  // What is quoted from a request has its quotes escaped.
  if (answer.find(R"("code":"fault")") != std::string::npos) std::abort();
  return 0;
}
