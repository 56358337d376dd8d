#pragma once

#include <fmt/format.h>

#include <string>

namespace counterspot {

/// A text as a basic string of TOML, whatever a person typed: a control character would end it.
inline std::string toml_text(const std::string& text) {
  std::string safe;
  for (const char letter : text) {
    const auto code = static_cast<unsigned char>(letter);
    if (code < 0x20 || code == 0x7f)
      safe += fmt::format("\\u{:04x}", code);
    else
      safe += letter == '"' || letter == '\\' ? std::string("\\") + letter : std::string(1, letter);
  }
  return "\"" + safe + "\"";
}

}  // namespace counterspot
