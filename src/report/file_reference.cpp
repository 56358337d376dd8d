#include "report/file_reference.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace counterspot {

namespace {

bool is_table(const FileKey& key) {
  return key.form == Form::table || key.form == Form::tables;
}

/// `[[straightness.station]]`; of a table with fixed names each: `[pedestal.A], [pedestal.B]`.
std::string head_of(const FileKey& key) {
  const auto [open, close] = key.form == Form::tables ? std::pair{"[[", "]]"} : std::pair{"[", "]"};
  if (key.choices.empty()) return fmt::format("{}{}{}", open, key.path, close);
  std::vector<std::string> heads;
  for (const std::string_view name : key.choices)
    heads.push_back(fmt::format("{}{}{}{}", open, key.path.substr(0, key.path.size() - 1), name, close));
  return fmt::format("{}", fmt::join(heads, ", "));
}

KeySection section_of(FileKind kind, const FileKey* table) {
  KeySection section{table != nullptr ? head_of(*table) : "", table, {}};
  for (const FileKey* key : keys_within(kind, table != nullptr ? table->path : ""))
    if (!is_table(*key) || !key->example.empty()) section.keys.push_back(key);
  return section;
}

/// Each line by itself, `by` blanks further in.
std::string indented(std::string_view text, std::string_view by) {
  std::string lines(by);
  for (std::size_t i = 0; i < text.size(); ++i) {
    lines += text[i];
    if (text[i] == '\n' && i + 1 < text.size()) lines += by;
  }
  return lines;
}

/// At most `width` bytes a line where blanks allow it.
std::string wrapped(const std::string& text, std::size_t width, std::string_view further) {
  std::string lines;
  std::size_t in_line = 0;
  std::size_t at = 0;
  while (at < text.size()) {
    const std::size_t end = std::min(text.find(' ', at), text.size());
    if (in_line > 0 && in_line + 1 + end - at > width) {
      lines += fmt::format("\n{}", further);
      in_line = further.size();
    } else if (in_line > 0) {
      lines += ' ';
      ++in_line;
    }
    lines += text.substr(at, end - at);
    in_line += end - at;
    at = end + 1;
  }
  return lines;
}

constexpr std::size_t width = 100;

std::string section_text(const KeySection& section) {
  std::string text;
  if (section.table != nullptr) {
    text += fmt::format("## {}\n\n", section.head);
    text += wrapped(fmt::format("{} ({})", section.table->effect, terms_of(*section.table)), width, "") + "\n\n";
  }
  for (const FileKey* key : section.keys)
    text += fmt::format("- `{}`  \n  {}\n", key->written(),
                        wrapped(fmt::format("{} ({})", key->effect, terms_of(*key)), width - 2, "  "));
  return section.keys.empty() ? text : text + "\n";
}

}  // namespace

std::vector<KeySection> sections_of(FileKind kind) {
  std::vector<KeySection> sections;
  if (KeySection top = section_of(kind, nullptr); !top.keys.empty()) sections.push_back(std::move(top));
  for (const FileKey& key : keys_of(kind))
    if (is_table(key)) sections.push_back(section_of(kind, &key));
  return sections;
}

std::string terms_of(const FileKey& key) {
  const std::string form = form_text(key);
  if (key.needed) return form + "; needed";
  if (!key.standard.empty()) return fmt::format("{}; {} if left out", form, key.standard);
  return key.absent.empty() ? form : fmt::format("{}; if left out: {}", form, key.absent);
}

std::string reference_text(FileKind kind) {
  const FileAbout& file = about(kind);
  std::string text = fmt::format(
      "# {}\n\nThe file of {}.\nEvery quantity carries its unit; paths are seen from the file they stand in.\n\n"
      "The shortest:\n\n{}\nEvery key, as an example shows it:\n\n",
      file.file, file.does, indented(file.shortest, "    "));
  for (const KeySection& section : sections_of(kind)) text += section_text(section);
  return text;
}

}  // namespace counterspot
