#include "files/text_place.hpp"

#include <fmt/format.h>

#include "files/toml_section.hpp"

namespace counterspot {

namespace {

/// The byte of a place that the parser counts in lines and in characters, both from 1.
std::size_t byte_at(const std::string& file, const toml::source_position& place) {
  std::size_t at = 0;
  for (toml::source_index line = 1; line < place.line && at != std::string::npos; ++line) at = file.find('\n', at) + 1;
  for (toml::source_index column = 1; column < place.column && at < file.size(); ++column) {
    ++at;
    while (at < file.size() && (static_cast<unsigned char>(file[at]) & 0xC0U) == 0x80U) ++at;  // UTF-8's further bytes
  }
  return at;
}

const toml::node* entry_named(const toml::table& table, std::string_view list, std::string_view name,
                              std::string_view key) {
  const toml::array* entries = table[list].as_array();
  for (std::size_t i = 0; entries != nullptr && i < entries->size(); ++i) {
    const toml::table* entry = entries->get(i)->as_table();
    if (entry != nullptr && (*entry)["name"].value<std::string_view>() == name) return entry->get(key);
  }
  return nullptr;
}

}  // namespace

std::pair<std::size_t, std::size_t> place_of_text(const std::string& file, std::string_view list, std::string_view name,
                                                  std::string_view key) {
  const toml::table table = parse_toml(file, std::filesystem::path());
  const toml::node* node = entry_named(table, list, name, key);
  const auto text = node != nullptr ? node->value<std::string>() : std::nullopt;
  if (text) {
    const std::size_t at = byte_at(file, node->source().begin) + 1;
    if (file.compare(at, text->size(), *text) == 0) return {at, text->size()};
  }
  throw Error(Trouble::request, "no_place",
              fmt::format("the file does not state the {} of {} {} as plain text in quotes", key, list, name),
              "write what is shown into the file by hand");
}

std::optional<std::pair<std::size_t, std::size_t>> place_of_value(const std::string& file, std::string_view section,
                                                                  std::string_view key) {
  const toml::table table = parse_toml(file, std::filesystem::path());
  const toml::node* node = table[section][key].node();
  if (node == nullptr) return std::nullopt;
  const std::size_t at = byte_at(file, node->source().begin);
  return std::pair(at, byte_at(file, node->source().end) - at);
}

}  // namespace counterspot
