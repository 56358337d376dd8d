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

/// At most `width` bytes per line where blanks allow it.
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

/// Remarks at its head are told; what is typed stays.
std::string shortest_text(const FileAbout& file, const Saying& said) {
  if (!file.shortest.starts_with('#')) return std::string(file.shortest);
  const std::size_t typed = file.shortest.find('\n', file.shortest.rfind("\n#") + 1) + 1;
  return std::string(said(file.shortest.substr(0, typed))) + std::string(file.shortest.substr(typed));
}

std::string told(const FileKey& key, const Saying& said) {
  return fmt::format("{} ({})", said(key.effect), terms_of(key, said));
}

std::string section_text(const KeySection& section, const Saying& said) {
  std::string text;
  if (section.table != nullptr)
    text += fmt::format("## {}\n\n{}\n\n", section.head, wrapped(told(*section.table, said), width, ""));
  for (const FileKey* key : section.keys)
    text += fmt::format("- `{}`  \n  {}\n", key->written(), wrapped(told(*key, said), width - 2, "  "));
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

std::string terms_of(const FileKey& key, const Saying& said) {
  const std::string form = form_text(key, said);
  if (key.needed) return fmt::format(fmt::runtime(said("{}; needed")), form);
  if (!key.standard.empty()) return fmt::format(fmt::runtime(said("{}; {} if left out")), form, key.standard);
  if (key.absent.empty()) return form;
  return fmt::format(fmt::runtime(said("{}; if left out: {}")), form, said(key.absent));
}

std::string does_of(FileKind kind, const Saying& said) {
  return fmt::format(fmt::runtime(said("The file of {}.")), said(about(kind).does));
}

std::string reference_text(FileKind kind, const Saying& said) {
  const FileAbout& file = about(kind);
  std::string text = fmt::format("# {}\n\n", file.file);
  text += does_of(kind, said) + "\n";
  text += said("Every quantity carries its unit; paths are seen from the file they stand in.");
  text += fmt::format("\n\n{}\n\n{}\n", said("The shortest:"), indented(shortest_text(file, said), "    "));
  text += fmt::format("{}\n\n", said("Every key, as an example shows it:"));
  for (const KeySection& section : sections_of(kind)) text += section_text(section, said);
  return text;
}

}  // namespace counterspot
