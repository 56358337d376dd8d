#include "console/http/access.hpp"

#include <arpa/inet.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>

namespace counterspot {

namespace {

constexpr std::size_t most_path_bytes = 256;

/// Takes as long for a wrong token as for the right one (CWE-208).
bool same(const std::string& one, const std::string& other) {
  unsigned difference = one.size() == other.size() ? 0U : 1U;
  for (std::size_t i = 0; i < std::min(one.size(), other.size()); ++i)
    difference |= static_cast<unsigned>(static_cast<unsigned char>(one[i]) ^ static_cast<unsigned char>(other[i]));
  return difference == 0;
}

bool has_cookie(const std::string& cookies, const std::string& name, const std::string& value) {
  bool found = false;
  for (std::size_t at = 0; at < cookies.size();) {
    const auto begin = std::min(cookies.find_first_not_of(' ', at), cookies.size());
    const auto end = std::min(cookies.find(';', begin), cookies.size());
    const std::string one = cookies.substr(begin, end - begin);
    if (one.starts_with(name + "=") && same(one.substr(name.size() + 1), value)) found = true;
    at = end + 1;
  }
  return found;
}

/// Splits "127.0.0.1:4810" or "[::1]:4810"; clients leave the port out where it is HTTP's own (RFC 9110, 4.2.1).
struct HostAndPort {
  std::string host;
  std::string port = "80";
  bool operator==(const HostAndPort&) const = default;
};
HostAndPort split(const std::string& text) {
  if (text.starts_with("[")) {
    const auto end = text.find(']');
    if (end == std::string::npos) return {};
    const std::string host = text.substr(1, end - 1);
    if (end + 1 == text.size()) return {host};
    return {host, text.substr(std::min(end + 2, text.size()))};
  }
  const auto colon = text.rfind(':');
  if (colon == std::string::npos) return {text};
  return {text.substr(0, colon), text.substr(colon + 1)};
}

}  // namespace

bool is_numeric_address(const std::string& address) {
  std::array<unsigned char, sizeof(in6_addr)> bytes{};
  return inet_pton(AF_INET, address.c_str(), bytes.data()) == 1 ||
         inet_pton(AF_INET6, address.c_str(), bytes.data()) == 1;
}

bool is_loopback(const std::string& address) {
  return address == "::1" || (address.starts_with("127.") && is_numeric_address(address));
}

bool AccessRules::loopback() const {
  return is_loopback(address);
}

/// A page of another site can make the browser come here under its own name (DNS rebinding), never under a number.
bool AccessRules::knows_host(const std::string& host) const {
  const HostAndPort named = split(host);
  if (named.port != std::to_string(port)) return false;
  if (loopback()) return named.host == "localhost" || is_loopback(named.host);
  return is_numeric_address(named.host);
}

/// Browsers tell cookies of one host apart by their names alone, not by the port (RFC 6265, 8.5).
std::string AccessRules::cookie_name() const {
  return "counterspot_" + std::to_string(port);
}

std::string AccessRules::cookie(Shown shown) const {
  return cookie_name() + "=" + (shown == Shown::token ? session : watch_session) +
         "; HttpOnly; SameSite=Strict; Path=/";
}

bool AccessRules::is_known(const httplib::Request& request) const {
  return token.empty() || has_cookie(request.get_header_value("Cookie"), cookie_name(), session) ||
         only_watches(request);
}

bool AccessRules::only_watches(const httplib::Request& request) const {
  const std::string cookies = request.get_header_value("Cookie");
  return !token.empty() && !watch_token.empty() && has_cookie(cookies, cookie_name(), watch_session) &&
         !has_cookie(cookies, cookie_name(), session);
}

AccessRules::Shown AccessRules::shown(const httplib::Request& request) const {
  const std::string found = request.get_param_value("token");
  const bool whole = same(found, token);  // both are compared, whichever it is
  const bool watch = same(found, watch_token) && !watch_token.empty();
  return whole ? Shown::token : watch ? Shown::watch_token : Shown::none;
}

std::optional<RequestRefusal> AccessRules::refuse(const httplib::Request& request) const {
  // The HTTP library looks for a path's handler with a regular expression, which takes half a kilobyte a character.
  if (request.path.size() > most_path_bytes)
    return RequestRefusal{404, "not_found", "there is nothing here", "open the page itself"};
  const std::string host = request.get_header_value("Host");
  if (request.get_header_value_count("Host") != 1 || !knows_host(host))
    return RequestRefusal{403, "wrong_host", "this server is not called that",
                          "open the address that the program printed"};
  const std::string origin = request.get_header_value("Origin");
  const std::string site = request.get_header_value("Sec-Fetch-Site");
  const bool same_origin = origin.starts_with("http://") && split(origin.substr(7)) == split(host);
  const bool elsewhere =
      (!origin.empty() && !same_origin) || (!site.empty() && site != "same-origin" && site != "none");
  const bool page = request.method == "GET" && request.path == "/" && origin.empty();
  if (elsewhere && !page)
    return RequestRefusal{403, "other_site", "this request comes from another site", "open the page itself"};
  const bool first_visit = request.method == "GET" && request.path == "/" && request.has_param("token");
  if (!first_visit && !is_known(request))
    return RequestRefusal{401, "needs_token", "this console asks for a token", "open the address with the token once"};
  if (request.method == "GET") return std::nullopt;
  if (only_watches(request))
    return RequestRefusal{403, "watches_only", "this screen may only look on", "enter it at the screen at the rig"};
  if (request.method != "POST")
    return RequestRefusal{405, "bad_method", "only GET and POST are answered", "load the page again"};
  return refuse_command(request);
}

std::optional<RequestRefusal> AccessRules::refuse_command(const httplib::Request& request) const {
  if (request.get_header_value("X-Counterspot") != "1")
    return RequestRefusal{403, "other_site", "the request does not come from the page",
                          "send the header X-Counterspot: 1"};
  const std::string length = request.get_header_value("Content-Length");
  std::uint64_t bytes = 0;
  const auto [end, trouble] = std::from_chars(length.data(), length.data() + length.size(), bytes);
  if (request.has_header("Transfer-Encoding") || length.empty() || trouble != std::errc() ||
      end != length.data() + length.size() || request.get_header_value_count("Content-Length") != 1)
    return RequestRefusal{411, "no_length", "the request does not say how long it is", "send Content-Length"};
  if (request.has_header("Content-Encoding") || request.is_multipart_form_data())
    return RequestRefusal{415, "bad_encoding", "the request is packed", "send the bytes as they are"};
  const std::uint64_t most = request.path == upload_path ? most_upload_bytes : most_request_bytes;
  if (bytes > most)
    return RequestRefusal{413, "too_large", fmt::format("{} bytes are more than the {} that are taken", bytes, most),
                          "use 'counterspot job spin FILE' for a recording of that size"};
  return std::nullopt;
}

}  // namespace counterspot
