#pragma once

#include <httplib.h>

#include <cstdint>
#include <optional>
#include <string>

namespace counterspot {

/// Why a request is not answered.
struct RequestRefusal {
  int status = 403;
  std::string code, message, remedy;
};

/// Who may ask what.
struct AccessRules {
  std::string address;  ///< numeric, as bound
  int port = 0;
  std::string token;          ///< empty: none is asked for
  std::string session;        ///< what a browser that has shown it is known by: nobody guesses that
  std::string watch_token;    ///< of who may only look on; empty: there is none
  std::string watch_session;  ///< of a browser that has shown that one
  std::uint64_t most_upload_bytes = 0;

  bool loopback() const;
  /// Looks at the head of a request, before any of its body is read.
  std::optional<RequestRefusal> refuse(const httplib::Request& request) const;
  bool is_known(const httplib::Request& request) const;
  bool only_watches(const httplib::Request& request) const;
  enum class Shown { none, token, watch_token };
  Shown shown(const httplib::Request& request) const;  ///< in the address
  std::string cookie(Shown shown) const;               ///< for a browser that has shown it; no script can read it

 private:
  std::string cookie_name() const;
  bool knows_host(const std::string& host) const;
  std::optional<RequestRefusal> refuse_command(const httplib::Request& request) const;
};

bool is_loopback(const std::string& address);
bool is_numeric_address(const std::string& address);

inline constexpr std::uint64_t most_request_bytes = 64 * 1024;  ///< of anything but an upload
inline constexpr const char* upload_path = "/api/upload";

}  // namespace counterspot
