#pragma once

#include <string>
#include <vector>

namespace counterspot {

/// Numeric addresses at which what is bound to `bound` is reached: itself, or those of this machine's networks if it
/// is the one for all of them (0.0.0.0, ::).
std::vector<std::string> addresses_behind(const std::string& bound);

/// As it is written into the query of an address: RFC 3986, 2.1 and 2.3.
std::string percent_encoded(const std::string& text);

/// Where a page is reached, with the token if there is one: one address for each of `addresses_behind`.
std::vector<std::string> page_urls(const std::string& bound, int port, const std::string& token);

}  // namespace counterspot
