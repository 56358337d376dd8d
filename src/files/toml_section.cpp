#include "files/toml_section.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <sstream>
#include <stdexcept>

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

TomlSection::TomlSection(const toml::table& table, std::string file, FileKind kind)
    : table_(&table), file_(std::move(file)), kind_(kind) {}

TomlSection::TomlSection(const toml::table& table, const TomlSection& within, const FileKey& key)
    : table_(&table), file_(within.file_), kind_(within.kind_), path_(key.path) {}

/// A key without its line is a mistake of ours.
const FileKey& TomlSection::line(std::string_view key) const {
  const FileKey* found = find_key(kind_, path_, key);
  if (found == nullptr) throw std::logic_error(fmt::format("no line for key '{}' in '{}'", key, path_));
  return *found;
}

const toml::node* TomlSection::find(std::string_view key) {
  line(key);
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

std::string TomlSection::with_manual(const std::string& remedy) const {
  const std::string command = fmt::format("'counterspot manual {}'", about(kind_).page);
  return remedy.find(command) != std::string::npos ? remedy : fmt::format("{}; {} has every key", remedy, command);
}

Error TomlSection::refused(std::string_view key, const std::string& code, const std::string& trouble,
                           const std::string& remedy) const {
  return {Trouble::request, code, where(key) + trouble, with_manual(remedy)};
}

Error TomlSection::bad_value(std::string_view key, const std::string& trouble, const std::string& remedy) const {
  return refused(key, "bad_value", trouble, remedy);
}

Error TomlSection::bad_form(std::string_view key, const std::string& trouble) const {
  const FileKey& form = line(key);
  return bad_value(key, trouble, fmt::format("write it like {} = {}", key, form.value()));
}

Error TomlSection::missing(std::string_view key) const {
  const FileKey& wanted = line(key);
  const bool table = wanted.form == Form::table || wanted.form == Form::tables;
  return {Trouble::request, "missing_key", fmt::format("{}:{}: {} lacks '{}'", file_, line_of(key), displayed(), key),
          with_manual(table ? fmt::format("add {} with {}", wanted.written(), needed_within(kind_, wanted.path))
                            : fmt::format("add a line like {} = {}", key, wanted.value()))};
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
  if (!value) throw bad_form(key, "should be text in quotes");
  return value;
}

std::string TomlSection::need_text(std::string_view key) {
  auto value = text(key);
  if (!value && line(key).standard.empty()) throw missing(key);
  if (value && value->empty()) throw bad_form(key, "is empty");
  return value ? *value : std::string(line(key).standard);
}

double TomlSection::in_range(std::string_view key, double value) const {
  if (!line(key).range.holds(value)) throw bad_form(key, range_text(line(key)));
  return value;
}

std::optional<int> TomlSection::whole_number(std::string_view key) {
  const toml::node* node = find(key);
  if (node == nullptr) return std::nullopt;
  auto value = node->value_exact<std::int64_t>();
  if (!value || *value < -1'000'000'000 || *value > 1'000'000'000)
    throw bad_form(key, "should be a whole number without quotes");
  return static_cast<int>(in_range(key, static_cast<double>(*value)));
}

int TomlSection::need_whole_number(std::string_view key) {
  if (auto value = whole_number(key)) return *value;
  if (line(key).standard.empty()) throw missing(key);
  return std::stoi(std::string(line(key).standard));
}

std::optional<double> TomlSection::number(std::string_view key) {
  const toml::node* node = find(key);
  if (node == nullptr) return std::nullopt;
  auto value = node->is_number() ? node->value<double>() : std::nullopt;
  if (!value || !std::isfinite(*value)) throw bad_form(key, "should be a number");
  return in_range(key, *value);
}

bool TomlSection::need_yes_or_no(std::string_view key) {
  const toml::node* node = find(key);
  if (node == nullptr) return line(key).standard == "true";
  auto value = node->value_exact<bool>();
  if (!value) throw bad_form(key, "should be true or false, without quotes");
  return *value;
}

double TomlSection::parsed(std::string_view key, const std::string& text) const {
  try {
    return in_range(key, parse_quantity(text, line(key).dimension));
  } catch (const Error& error) {
    if (error.code() == "bad_value") throw;  // out of range: it says where already
    throw refused(key, error.code(), error.what(), error.remedy());
  }
}

std::optional<double> TomlSection::quantity(std::string_view key) {
  const toml::node* node = find(key);
  if (node == nullptr) return std::nullopt;
  auto typed = node->value_exact<std::string>();
  if (!typed && node->is_number()) typed = fmt::format("{}", *node->value<double>());
  if (!typed) throw bad_form(key, "should be a number with its unit, in quotes");
  return parsed(key, *typed);
}

double TomlSection::need_quantity(std::string_view key) {
  if (auto value = quantity(key)) return *value;
  if (line(key).standard.empty()) throw missing(key);
  return parse_quantity(line(key).standard, line(key).dimension);
}

std::vector<double> TomlSection::quantities(std::string_view key) {
  const toml::node* node = find(key);
  if (node == nullptr) return {};
  const toml::array* list = node->as_array();
  if (list == nullptr) return {parsed(key, *text(key))};
  std::vector<double> values;
  for (const toml::node& element : *list) {
    auto typed = element.value_exact<std::string>();
    if (!typed) throw bad_form(key, "should be a list of texts");
    values.push_back(parsed(key, *typed));
  }
  return values;
}

std::optional<TypedSize> TomlSection::size_with_plus_minus(std::string_view key) {
  const auto typed = text(key);
  if (!typed) return std::nullopt;
  auto size = located(key, [&] { return parse_size_with_plus_minus(*typed, line(key).dimension); });
  in_range(key, size.value);
  return size;
}

std::optional<std::size_t> TomlSection::choice(std::string_view key) {
  const auto value = text(key);
  if (!value) return std::nullopt;
  const auto& choices = line(key).choices;
  const auto found = std::find(choices.begin(), choices.end(), *value);
  if (found == choices.end())
    throw bad_value(key, fmt::format("'{}' is none of {}", *value, fmt::join(choices, ", ")),
                    fmt::format("write \"{}\"", fmt::join(choices, "\" or \"")));
  return static_cast<std::size_t>(found - choices.begin());
}

std::size_t TomlSection::need_choice(std::string_view key) {
  if (auto which = choice(key)) return *which;
  const FileKey& form = line(key);
  if (form.standard.empty()) throw missing(key);
  const auto standard = std::find(form.choices.begin(), form.choices.end(), form.standard);
  return static_cast<std::size_t>(standard - form.choices.begin());
}

std::optional<TomlSection> TomlSection::section(std::string_view key) {
  const toml::node* node = find(key);
  if (node == nullptr) return std::nullopt;
  const toml::table* table = node->as_table();
  if (table == nullptr)
    throw bad_value(key, "should be a table",
                    fmt::format("write [{}] on a line of its own, or {} = {{ … }}", key, key));
  TomlSection found(*table, *this, line(key));
  found.name_ = name_.empty() ? fmt::format("[{}]", key) : fmt::format("{} {}", name_, key);
  return found;
}

TomlSection TomlSection::need_section(std::string_view key) {
  auto found = section(key);
  if (!found) throw missing(key);
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
    found.push_back(TomlSection(*table, *this, line(key)));
    found.back().name_ = name_.empty() ? fmt::format("[[{}]]", key) : fmt::format("{} {}", name_, key);
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
                            displayed(), key.str()),
                with_manual(fmt::format("mend its spelling or take it out; known are {}", fmt::join(asked_, ", "))));
  }
}

}  // namespace counterspot
