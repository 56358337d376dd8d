#include "console/http/access.hpp"

#include <arpa/inet.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>

namespace counterspot {

namespace {

constexpr const char* token_cookie = "counterspot_token";

/// Takes as long for a wrong token as for the right one (CWE-208).
bool same(const std::string& one, const std::string& other) {
  unsigned difference = one.size() == other.size() ? 0U : 1U;
  for (std::size_t i = 0; i < std::min(one.size(), other.size()); ++i)
    difference |= static_cast<unsigned>(static_cast<unsigned char>(one[i]) ^ static_cast<unsigned char>(other[i]));
  return difference == 0;
}

std::string cookie_of(const httplib::Request& request) {
  const std::string cookies = request.get_header_value("Cookie");
  const std::string key = std::string(token_cookie) + "=";
  const auto at = cookies.find(key);
  if (at == std::string::npos) return "";
  const auto begin = at + key.size();
  return cookies.substr(begin, cookies.find(';', begin) - begin);
}

/// Splits "127.0.0.1:4810" or "[::1]:4810".
struct HostAndPort {
  std::string host;
  std::string port;
};
HostAndPort split(const std::string& text) {
  if (text.starts_with("[")) {
    const auto end = text.find(']');
    if (end == std::string::npos) return {};
    return {text.substr(1, end - 1), end + 2 <= text.size() ? text.substr(end + 2) : ""};
  }
  const auto colon = text.rfind(':');
  if (colon == std::string::npos) return {text, ""};
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

bool AccessRules::shows_token(const httplib::Request& request) const {
  return token.empty() || same(cookie_of(request), token);
}

std::optional<Refusal> AccessRules::refuse(const httplib::Request& request) const {
  const std::string host = request.get_header_value("Host");
  if (request.get_header_value_count("Host") != 1 || !knows_host(host))
    return Refusal{403, "wrong_host", "this server is not called that", "open the address that the program printed"};
  const std::string origin = request.get_header_value("Origin");
  const std::string site = request.get_header_value("Sec-Fetch-Site");
  const bool elsewhere =
      (!origin.empty() && origin != "http://" + host) || (!site.empty() && site != "same-origin" && site != "none");
  const bool page = request.method == "GET" && request.path == "/" && origin.empty();
  if (elsewhere && !page)
    return Refusal{403, "other_site", "this request comes from another site", "open the page itself"};
  const bool first_visit = request.method == "GET" && request.path == "/" && request.has_param("token");
  if (!first_visit && !shows_token(request))
    return Refusal{401, "needs_token", "this console asks for a token", "open the address with the token once"};
  if (request.method == "GET") return std::nullopt;
  if (request.method != "POST")
    return Refusal{405, "bad_method", "only GET and POST are answered", "load the page again"};
  return refuse_command(request);
}

std::optional<Refusal> AccessRules::refuse_command(const httplib::Request& request) const {
  if (request.get_header_value("X-Counterspot") != "1")
    return Refusal{403, "other_site", "the request does not come from the page", "send the header X-Counterspot: 1"};
  const std::string length = request.get_header_value("Content-Length");
  std::uint64_t bytes = 0;
  const auto [end, trouble] = std::from_chars(length.data(), length.data() + length.size(), bytes);
  if (request.has_header("Transfer-Encoding") || length.empty() || trouble != std::errc() ||
      end != length.data() + length.size() || request.get_header_value_count("Content-Length") != 1)
    return Refusal{411, "no_length", "the request does not say how long it is", "send Content-Length"};
  if (request.has_header("Content-Encoding") || request.is_multipart_form_data())
    return Refusal{415, "bad_encoding", "the request is packed", "send the bytes as they are"};
  const std::uint64_t most = request.path == upload_path ? most_upload_bytes : most_request_bytes;
  if (bytes > most)
    return Refusal{413, "too_large", fmt::format("{} bytes are more than the {} that are taken", bytes, most),
                   "use 'counterspot job spin FILE' for a recording of that size"};
  return std::nullopt;
}

}  // namespace counterspot
