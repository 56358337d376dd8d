#include "files/toml_section.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <sstream>

#include "files/text_file.hpp"

namespace counterspot {

toml::table parse_toml(const std::filesystem::path& path) {
  constexpr std::size_t most_bytes = std::size_t{16} << 20U;
  return parse_toml(text_of_file(path, most_bytes), path);
}

namespace {

constexpr std::ptrdiff_t most_dots = 1000;  // in a line

/// The library goes one call deeper for each dot in a key, and out of the stack at some 30 000.
void refuse_endless(const std::string& text, const std::filesystem::path& path) {
  int number = 0;
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    ++number;
    if (std::count(line.begin(), line.end(), '.') <= most_dots) continue;
    throw Error(Trouble::request, "bad_toml",
                fmt::format("{}:{}: is not TOML as people write it: more than {} dots in a line", path.string(), number,
                            most_dots),
                "mend that line, or name the file that was meant");
  }
}

}  // namespace

toml::table parse_toml(const std::string& text, const std::filesystem::path& path) {
  refuse_endless(text, path);
  try {
    return toml::parse(text);
  } catch (const toml::parse_error& error) {
    throw Error(Trouble::request, "bad_toml",
                fmt::format("{}:{}: is not TOML: {}", path.string(), error.source().begin.line, error.description()),
                "mend that line; text stands in quotes, as in mass = \"14.6 kg\"");
  }
}

TomlSection::TomlSection(const toml::table& table, std::string file, std::string name)
    : table_(&table), file_(std::move(file)), name_(std::move(name)) {}

const toml::node* TomlSection::find(std::string_view key) {
  asked_.emplace(key);
  return table_->get(key);
}

int TomlSection::line_of(std::string_view key) const {
  const toml::node* node = table_->get(key);
  const auto& source = node != nullptr ? node->source() : table_->source();
  return static_cast<int>(source.begin.line);
}

std::string TomlSection::where(std::string_view key) const {
  return fmt::format("{}:{}: {}{}{}: ", file_, line_of(key), name_, name_.empty() ? "" : " ", key);
}

Error TomlSection::bad_value(std::string_view key, const std::string& trouble, std::string remedy) const {
  return {Trouble::request, "bad_value", where(key) + trouble, std::move(remedy)};
}

Error TomlSection::missing(std::string_view key, std::string_view example) const {
  return {Trouble::request, "missing_key",
          fmt::format("{}:{}: {} lacks '{}'", file_, line_of(key), name_.empty() ? "the file" : name_, key),
          fmt::format("add a line like {}", example)};
}

bool TomlSection::has(std::string_view key) {
  return find(key) != nullptr;
}

bool TomlSection::is_text(std::string_view key) {
  const toml::node* node = find(key);
  return node != nullptr && node->is_string();
}

std::optional<std::string> TomlSection::text(std::string_view key) {
  const toml::node* node = find(key);
  if (node == nullptr) return std::nullopt;
  auto value = node->value_exact<std::string>();
  if (!value) throw bad_value(key, "should be text", fmt::format("put it in quotes: {} = \"…\"", key));
  return value;
}

std::string TomlSection::need_text(std::string_view key, std::string_view example) {
  if (has(key) && !is_text(key))
    throw bad_value(key, "should be text in quotes", fmt::format("write a line like {}", example));
  auto value = text(key);
  if (!value) throw missing(key, example);
  if (value->empty()) throw bad_value(key, "is empty", fmt::format("write a line like {}", example));
  return *value;
}

std::optional<int> TomlSection::whole_number(std::string_view key) {
  const toml::node* node = find(key);
  if (node == nullptr) return std::nullopt;
  auto value = node->value_exact<std::int64_t>();
  if (!value || *value < -1'000'000'000 || *value > 1'000'000'000) {
    throw bad_value(key, "should be a whole number", fmt::format("write it without quotes: {} = 1", key));
  }
  return static_cast<int>(*value);
}

std::optional<double> TomlSection::number(std::string_view key) {
  const toml::node* node = find(key);
  if (node == nullptr) return std::nullopt;
  auto value = node->is_number() ? node->value<double>() : std::nullopt;
  if (!value || !std::isfinite(*value))
    throw bad_value(key, "should be a number", fmt::format("write it without quotes: {} = 1.0", key));
  return value;
}

std::optional<bool> TomlSection::yes_or_no(std::string_view key) {
  const toml::node* node = find(key);
  if (node == nullptr) return std::nullopt;
  auto value = node->value_exact<bool>();
  if (!value) throw bad_value(key, "should be true or false", fmt::format("write it without quotes: {} = true", key));
  return value;
}

std::optional<double> TomlSection::quantity(std::string_view key, Dimension dimension) {
  const toml::node* node = find(key);
  if (node == nullptr) return std::nullopt;
  auto typed = node->value_exact<std::string>();
  if (!typed && node->is_number()) typed = fmt::format("{}", *node->value<double>());
  if (!typed)
    throw bad_value(key, "should be a number with its unit, in quotes",
                    fmt::format("write it like {} = \"14.6 kg\"", key));
  return located(key, [&] { return parse_quantity(*typed, dimension); });
}

double TomlSection::need_quantity(std::string_view key, Dimension dimension, std::string_view example) {
  auto value = quantity(key, dimension);
  if (!value) throw missing(key, example);
  return *value;
}

std::optional<double> TomlSection::size(std::string_view key, Dimension dimension) {
  auto value = quantity(key, dimension);
  if (value && !(*value > 0.0)) throw bad_value(key, "must be more than zero", "write a value above zero");
  return value;
}

double TomlSection::need_size(std::string_view key, Dimension dimension, std::string_view example) {
  auto value = size(key, dimension);
  if (!value) throw missing(key, example);
  return *value;
}

std::vector<std::string> TomlSection::texts(std::string_view key) {
  const toml::node* node = find(key);
  if (node == nullptr) return {};
  if (const toml::array* list = node->as_array()) {
    std::vector<std::string> values;
    for (const toml::node& element : *list) {
      auto value = element.value_exact<std::string>();
      if (!value)
        throw bad_value(key, "should be a list of texts", fmt::format("write it like {} = [\"…\", \"…\"]", key));
      values.push_back(*value);
    }
    return values;
  }
  return {*text(key)};
}

std::optional<TomlSection> TomlSection::section(std::string_view key) {
  const toml::node* node = find(key);
  if (node == nullptr) return std::nullopt;
  const toml::table* table = node->as_table();
  if (table == nullptr)
    throw bad_value(key, "should be a table",
                    fmt::format("write [{}] on a line of its own, or {} = {{ … }}", key, key));
  return TomlSection(*table, file_, name_.empty() ? fmt::format("[{}]", key) : fmt::format("{} {}", name_, key));
}

TomlSection TomlSection::need_section(std::string_view key, std::string_view example) {
  auto found = section(key);
  if (!found) throw missing(key, example);
  return *found;
}

std::vector<TomlSection> TomlSection::sections(std::string_view key) {
  const toml::node* node = find(key);
  if (node == nullptr) return {};
  const toml::array* list = node->as_array();
  if (list == nullptr)
    throw bad_value(key, "should be a list of tables",
                    fmt::format("write [[{}]], with two brackets, or {} = [ {{ … }} ]", key, key));
  std::vector<TomlSection> found;
  for (const toml::node& element : *list) {
    const toml::table* table = element.as_table();
    if (table == nullptr)
      throw bad_value(key, "should be a list of tables", fmt::format("write {} = [ {{ … }}, {{ … }} ]", key));
    found.emplace_back(*table, file_, name_.empty() ? fmt::format("[[{}]]", key) : fmt::format("{} {}", name_, key));
  }
  return found;
}

std::vector<std::string> TomlSection::keys() const {
  std::vector<std::pair<toml::source_position, std::string>> found;
  for (const auto& [key, node] : *table_) found.emplace_back(key.source().begin, std::string(key.str()));
  std::sort(found.begin(), found.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
  std::vector<std::string> names;
  for (auto& [position, name] : found) names.push_back(std::move(name));
  return names;
}

void TomlSection::finish() const {
  for (const auto& [key, node] : *table_) {
    if (asked_.contains(key.str())) continue;
    throw Error(Trouble::request, "unknown_key",
                fmt::format("{}:{}: {} has a key '{}' that means nothing here", file_, key.source().begin.line,
                            name_.empty() ? "the file" : name_, key.str()),
                fmt::format("mend its spelling or take it out; known are {}", fmt::join(asked_, ", ")));
  }
}

}  // namespace counterspot
