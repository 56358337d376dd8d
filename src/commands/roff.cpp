#include "commands/roff.hpp"

#include <fmt/format.h>

#include "counterspot/version.hpp"
#include "files/drawn_mark.hpp"

namespace counterspot::commands {

std::string escaped(std::string_view text) {
  std::string out;
  for (char c : text) {
    const bool line_begins = out.empty() || out.back() == '\n';
    if (line_begins && (c == '.' || c == '\'')) out += "\\&";
    if (c == '\\') {
      out += "\\e";
    } else if (c == '-') {
      out += "\\-";
    } else {
      out += c;
    }
  }
  return out;
}

std::string as_it_stands(const std::string& text) {
  return text.empty() ? "" : ".nf\n" + escaped(text) + (text.back() == '\n' ? "" : "\n") + ".fi\n";
}

std::string heading(const std::string& page, int section, std::string_view does, const Saying& said) {
  return fmt::format(
      "{}.TH {} {} \"\" \"counterspot {}\" \"Counterspot\"\n"
      ".SH {}\n{} \\- {}\n",
      mark_in_manual, page, section, version, said("NAME"), escaped(page), escaped(does));
}

}  // namespace counterspot::commands
