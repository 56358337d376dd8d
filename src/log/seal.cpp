#include "counterspot/log/seal.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "counterspot/units/error.hpp"
#include "log/canonical.hpp"
#include "log/fields_json.hpp"
#include "log/sha256.hpp"
#include "units/one_line.hpp"

namespace counterspot {

namespace {

constexpr std::size_t code_digits = 24;
constexpr std::size_t fewest_digits = 16;

}  // namespace

std::string opening_seal(const Job& job) {
  return sha256_of(canonical_text(job));
}

std::string entry_seal(const std::string& seal_before, const Event& event) {
  return sha256_of(seal_before + "\n" + canonical_text(event));
}

std::string record_seal(const RigRecord& record) {
  return sha256_of(one_line(kept_json(record)));
}

std::vector<std::string> seals_of(const Job& job) {
  std::vector<std::string> seals{opening_seal(job)};
  for (const Event& event : job.events) seals.push_back(entry_seal(seals.back(), event));
  return seals;
}

std::string seal_of(const Job& job) {
  return seals_of(job).back();
}

std::string seal_code(const std::string& seal) {
  std::string code = seal.substr(0, code_digits);
  for (std::size_t at = code.size() / 4 * 4; at > 0; at -= 4)
    if (at < code.size()) code.insert(at, " ");
  return code;
}

bool has_code(const std::string& seal, std::string_view code) {
  std::string digits;
  for (const char c : code)
    if (c != ' ' && c != '-') digits += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  const bool is_code = digits.size() >= fewest_digits && digits.size() <= 64 &&
                       digits.find_first_not_of("0123456789abcdef") == std::string::npos;
  if (!is_code) {
    throw Error(Trouble::request, "bad_seal_code", fmt::format("'{}' is no code of a seal", code),
                fmt::format("write the {} digits that stand on the sheet, like \"3f9a 12cd 55aa 0b1c 9d2e 77f0\"",
                            code_digits));
  }
  return seal.starts_with(digits);
}

std::optional<int> entry_of_code(const Job& job, const std::vector<LogLink>& links, std::string_view code) {
  const std::vector<std::string> seals = seals_of(job);
  for (std::size_t i = 0; i < seals.size(); ++i)
    if (has_code(seals[i], code) || (i < links.size() && has_code(links[i].sha256, code))) return static_cast<int>(i);
  return std::nullopt;
}

}  // namespace counterspot
