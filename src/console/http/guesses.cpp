#include "console/http/guesses.hpp"

#include <arpa/inet.h>

#include <algorithm>
#include <array>

namespace counterspot {

namespace {

constexpr std::size_t most_addresses = 1024;
constexpr int wrong_without_waiting = 3;  // a person mistypes
constexpr std::chrono::seconds longest_wait{60};

std::chrono::seconds wait_after(int wrong) {
  if (wrong <= wrong_without_waiting) return std::chrono::seconds(0);
  return std::min(longest_wait, std::chrono::seconds(1 << std::min(wrong - wrong_without_waiting - 1, 10)));
}

/// Who has an IPv6 address has its network's 2^64 (RFC 4291, 2.5.4).
std::string guesser_at(const std::string& address) {
  std::array<char, sizeof(in6_addr)> bytes{};
  if (::inet_pton(AF_INET6, address.c_str(), bytes.data()) != 1) return address;
  return {bytes.data(), bytes.size() / 2};
}

}  // namespace

Guesses::Outcome Guesses::guess(const std::string& address, bool right, Clock::time_point now) {
  const std::scoped_lock lock(mutex_);
  const std::string guesser = guesser_at(address);
  const auto known = told_.find(guesser);
  if (known != told_.end() && now < known->second.until) return Outcome::too_soon;
  if (right) {
    told_.erase(guesser);
    return Outcome::right;
  }
  if (known == told_.end() && told_.size() >= most_addresses)
    told_.erase(std::min_element(told_.begin(), told_.end(), [](const auto& one, const auto& other) {
      return one.second.until < other.second.until;
    }));
  Told& told = told_[guesser];
  ++told.wrong;
  told.until = now + wait_after(told.wrong);
  return Outcome::wrong;
}

}  // namespace counterspot
