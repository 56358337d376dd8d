#pragma once

#include <toml++/toml.h>
#include <filesystem>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "counterspot/units/error.hpp"
#include "counterspot/units/units.hpp"

namespace counterspot {

/// The parsed file. @throws Error(request): "not_found", "bad_toml" with the line.
toml::table parse_toml(const std::filesystem::path& path);
/// The same of a text; `path` is what messages call it.
toml::table parse_toml(const std::string& text, const std::filesystem::path& path);

/// A table of a file a person wrote, read key by key. Every trouble becomes an Error that names file, line and key, and
/// a key nobody asked for is one too: a typo must not pass in silence.
class TomlSection {
 public:
  /// @param name as the person wrote it: "[tach]", "[[sensor]]". `file` is the file's name as in messages.
  TomlSection(const toml::table& table, std::string file, std::string name);

  bool has(std::string_view key);
  bool is_text(std::string_view key);
  std::optional<std::string> text(std::string_view key);
  std::string need_text(std::string_view key, std::string_view example);
  std::optional<int> whole_number(std::string_view key);
  std::optional<double> number(std::string_view key);
  std::optional<bool> yes_or_no(std::string_view key);
  std::optional<double> quantity(std::string_view key, Dimension dimension);
  double need_quantity(std::string_view key, Dimension dimension, std::string_view example);
  /// The same, and more than zero.
  std::optional<double> size(std::string_view key, Dimension dimension);
  double need_size(std::string_view key, Dimension dimension, std::string_view example);
  /// A list of texts, or one text as a list of one.
  std::vector<std::string> texts(std::string_view key);

  std::optional<TomlSection> section(std::string_view key);
  TomlSection need_section(std::string_view key, std::string_view example);
  /// Of `[[key]]`, or of a list of inline tables.
  std::vector<TomlSection> sections(std::string_view key);
  /// The keys of this table, in the file's order; for tables whose keys are names.
  std::vector<std::string> keys() const;

  /// Runs `read`, and puts file, line and key before the sentence of an Error it throws.
  template <typename Read>
  auto located(std::string_view key, Read read) {
    try {
      return read();
    } catch (const Error& error) {
      throw Error(error.trouble(), error.code(), where(key) + error.what(), error.remedy());
    }
  }
  Error bad_value(std::string_view key, const std::string& trouble, std::string remedy) const;
  Error missing(std::string_view key, std::string_view example) const;
  /// "rig.toml:7: [tach] edge: ".
  std::string where(std::string_view key) const;
  int line_of(std::string_view key) const;

  /// To be called last. @throws Error(request, "unknown_key").
  void finish() const;

 private:
  const toml::node* find(std::string_view key);

  const toml::table* table_;
  std::string file_;
  std::string name_;
  std::set<std::string, std::less<>> asked_;
};

}  // namespace counterspot
