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
#include "files/file_keys.hpp"
#include "units/typed.hpp"

namespace counterspot {

/// The parsed file. @throws Error(request): "not_found", "bad_toml" with the line.
toml::table parse_toml(const std::filesystem::path& path);
/// The same of a text; `path` is what messages call it.
toml::table parse_toml(const std::string& text, const std::filesystem::path& path);

/// A table of a file a person wrote, read key by key as the lines of `file_keys.hpp` say: what a key is, what is taken
/// where it is left out and what an example looks like stands there and nowhere else. Every trouble becomes an Error
/// that names file, line and key, and a key nobody asked for is one too: a typo must not pass in silence.
class TomlSection {
 public:
  /// The file as a whole. `file` is its name as in messages.
  TomlSection(const toml::table& table, std::string file, FileKind kind);

  bool has(std::string_view key);
  bool is_text(std::string_view key);
  /// Empty if it is left out, whatever would then be taken.
  std::optional<std::string> text(std::string_view key);
  std::optional<int> whole_number(std::string_view key);
  std::optional<double> number(std::string_view key);
  std::optional<double> quantity(std::string_view key);
  std::vector<double> quantities(std::string_view key);
  std::optional<TypedSize> size_with_plus_minus(std::string_view key);
  /// What is taken where it is left out; refused if nothing is.
  std::string need_text(std::string_view key);
  int need_whole_number(std::string_view key);
  bool need_yes_or_no(std::string_view key);
  double need_quantity(std::string_view key);
  /// Which of the key's choices, from 0.
  std::optional<std::size_t> choice(std::string_view key);
  std::size_t need_choice(std::string_view key);

  std::optional<TomlSection> section(std::string_view key);
  TomlSection need_section(std::string_view key);
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
      throw refused(key, error.code(), error.what(), error.remedy());
    }
  }
  Error refused(std::string_view key, const std::string& code, const std::string& trouble,
                const std::string& remedy) const;
  Error bad_value(std::string_view key, const std::string& trouble, const std::string& remedy) const;
  Error bad_form(std::string_view key, const std::string& trouble) const;  ///< the remedy is the key's example
  Error missing(std::string_view key) const;
  /// "rig.toml:7: [tach] edge: ".
  std::string where(std::string_view key) const;
  int line_of(std::string_view key) const;

  /// To be called last. @throws Error(request, "unknown_key").
  void finish() const;

 private:
  TomlSection(const toml::table& table, const TomlSection& within, const FileKey& key);
  const toml::node* find(std::string_view key);
  const FileKey& line(std::string_view key) const;
  double in_range(std::string_view key, double value) const;
  double parsed(std::string_view key, const std::string& text) const;
  std::string with_manual(const std::string& remedy) const;
  std::string displayed() const { return name_.empty() ? "the file" : name_; }

  const toml::table* table_;
  std::string file_;
  FileKind kind_;
  std::string name_;  ///< as the person wrote it: "[tach]", "[[spin]] fitted"
  std::string path_;  ///< as file_keys.hpp has it: "tach", "spin.fitted"
  std::set<std::string, std::less<>> asked_;
};

}  // namespace counterspot
