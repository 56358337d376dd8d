#include "console/addresses.hpp"

#include <arpa/inet.h>
#include <fmt/format.h>
#include <ifaddrs.h>
#include <net/if.h>

#include <array>
#include <memory>
#include <string_view>

namespace counterspot {

namespace {

/// Empty: of another kind, or good only together with the name of a network (IPv6, link-local).
std::string address_in(const ifaddrs& found, bool also_v6) {
  std::array<char, INET6_ADDRSTRLEN> text{};
  const sockaddr* socket = found.ifa_addr;
  if (socket == nullptr || (found.ifa_flags & IFF_UP) == 0 || (found.ifa_flags & IFF_LOOPBACK) != 0) return "";
  const void* number = nullptr;
  if (socket->sa_family == AF_INET) number = &reinterpret_cast<const sockaddr_in*>(socket)->sin_addr;
  if (socket->sa_family == AF_INET6 && also_v6) {
    const in6_addr& v6 = reinterpret_cast<const sockaddr_in6*>(socket)->sin6_addr;
    if (!IN6_IS_ADDR_LINKLOCAL(&v6)) number = &v6;
  }
  return number == nullptr ? "" : ::inet_ntop(socket->sa_family, number, text.data(), text.size());
}

}  // namespace

std::vector<std::string> addresses_behind(const std::string& bound) {
  const bool all_v6 = bound == "::";
  if (bound != "0.0.0.0" && !all_v6) return {bound};
  std::vector<std::string> addresses;
  ifaddrs* list = nullptr;
  if (::getifaddrs(&list) == 0) {
    const std::unique_ptr<ifaddrs, decltype(&::freeifaddrs)> kept(list, ::freeifaddrs);
    for (const ifaddrs* each = list; each != nullptr; each = each->ifa_next)
      if (const std::string address = address_in(*each, all_v6); !address.empty()) addresses.push_back(address);
  }
  if (addresses.empty()) addresses.emplace_back(all_v6 ? "::1" : "127.0.0.1");
  return addresses;
}

std::string percent_encoded(const std::string& text) {
  constexpr std::string_view as_they_are = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._~";
  std::string encoded;
  for (const char c : text)
    encoded += as_they_are.find(c) != std::string_view::npos ? std::string(1, c)
                                                             : fmt::format("%{:02X}", static_cast<unsigned char>(c));
  return encoded;
}

std::vector<std::string> page_urls(const std::string& bound, int port, const std::string& token) {
  std::vector<std::string> urls;
  for (const std::string& address : addresses_behind(bound)) {
    const bool v6 = address.find(':') != std::string::npos;
    urls.push_back(fmt::format("http://{}:{}/{}", v6 ? "[" + address + "]" : address, port,
                               token.empty() ? "" : "?token=" + percent_encoded(token)));
  }
  return urls;
}

}  // namespace counterspot
