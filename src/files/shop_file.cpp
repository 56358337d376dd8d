#include "counterspot/files/shop.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <sstream>

#include "counterspot/files/files.hpp"
#include "files/output_file.hpp"
#include "files/text_file.hpp"
#include "files/toml_section.hpp"
#include "files/toml_text.hpp"

namespace counterspot {

namespace {

/// As an option takes it; what is no such value is refused here, with its line.
std::string shop_value_of(TomlSection& file, const FileKey& key) {
  const std::string_view name = key.name();
  if (key.form == Form::whole) return fmt::format("{}", file.need_whole_number(name));
  if (key.form == Form::choice) return std::string(key.choices[file.need_choice(name)]);
  std::string typed = file.need_text(name);
  if (key.form == Form::quantity) file.need_quantity(name);
  return typed;
}

bool states(const std::string& line, const std::string& key) {
  const auto from = line.find_first_not_of(" \t");
  if (from == std::string::npos || !line.substr(from).starts_with(key)) return false;
  const auto after = line.find_first_not_of(" \t", from + key.size());
  return after != std::string::npos && line[after] == '=';
}

}  // namespace

bool is_shop_path(const std::string& key, const std::string& value) {
  if (key == "log") return !value.starts_with("postgresql://");
  return key == "rig" || key == "stock" || key == "shafts" || key == "recordings";
}

std::vector<ShopValue> read_shop_text(const std::string& text, const std::filesystem::path& path) {
  const toml::table table = parse_toml(text, path);
  TomlSection file(table, path.string(), FileKind::shop);
  std::vector<ShopValue> values;
  for (const FileKey& key : keys_of(FileKind::shop)) {
    if (!file.has(key.name())) continue;
    ShopValue found{std::string(key.name()), shop_value_of(file, key), path, file.line_of(key.name())};
    if (is_shop_path(found.key, found.value))
      found.value = std::filesystem::absolute(path.parent_path() / found.value).lexically_normal().string();
    values.push_back(std::move(found));
  }
  file.finish();
  return values;
}

std::vector<ShopValue> read_shop(const std::filesystem::path& file) {
  return read_shop_text(text_of_file(file, std::size_t{1} << 20U), file);
}

std::filesystem::path shop_file_at(const std::filesystem::path& folder) {
  std::error_code unseen;
  for (std::filesystem::path at = std::filesystem::absolute(folder).lexically_normal();; at = at.parent_path()) {
    if (std::filesystem::exists(at / "shop.toml", unseen)) return at / "shop.toml";
    if (at == at.parent_path()) return {};
  }
}

std::vector<ShopValue> nearer_first(std::vector<ShopValue> near, const std::vector<ShopValue>& far) {
  for (const ShopValue& value : far)
    if (std::ranges::find(near, value.key, &ShopValue::key) == near.end()) near.push_back(value);
  return near;
}

std::string with_shop_value(const std::string& text, const std::string& key, const std::string& value) {
  const FileKey* known = find_key(FileKind::shop, "", key);
  if (known == nullptr) {
    std::vector<std::string_view> names;
    for (const FileKey& each : keys_of(FileKind::shop)) names.push_back(each.name());
    throw Error(Trouble::request, "unknown_key", fmt::format("a shop file has no key '{}'", key),
                fmt::format("name one of {}", fmt::join(names, ", ")));
  }
  const std::string stated = key + " = " + (known->form == Form::whole ? value : toml_text(value));
  std::string changed;
  bool done = false;
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    const bool this_one = !done && states(line, key);
    changed += (this_one ? stated : line) + "\n";
    done = done || this_one;
  }
  return done ? changed : changed + stated + "\n";
}

std::string shop_text_at(const std::filesystem::path& file) {
  std::error_code unseen;
  return std::filesystem::exists(file, unseen) ? text_of_file(file)
                                               : "# 'counterspot manual shop-file' has every key.\n";
}

void state_in_shop(const std::filesystem::path& file, const std::string& key, const std::string& value) {
  const std::string text = with_shop_value(shop_text_at(file), key, value);
  read_shop_text(text, file);  // never leave a file that cannot be read
  std::error_code unmade;
  std::filesystem::create_directories(file.parent_path(), unmade);
  write_output(file, text, {Overwrite::all, {}});
}

std::string newest_shaft_in(const std::filesystem::path& folder) {
  std::error_code unseen;
  std::string newest;
  std::filesystem::file_time_type at = std::filesystem::file_time_type::min();
  for (const auto& entry : std::filesystem::directory_iterator(folder, unseen)) {
    if (entry.path().extension() != ".toml" || entry.last_write_time(unseen) < at) continue;
    try {
      newest = read_shaft(entry.path()).id;
      at = entry.last_write_time(unseen);
    } catch (const Error&) {  // another file, or one that its own command will speak of
    }
  }
  return newest;
}

std::filesystem::path shaft_file_named(const std::string& named, const std::filesystem::path& folder) {
  std::error_code unseen;
  if (folder.empty() || std::filesystem::exists(named, unseen) || named.find('/') != std::string::npos) return named;
  std::vector<std::string> files;
  std::vector<std::string> ids;
  for (const auto& entry : std::filesystem::directory_iterator(folder, unseen)) {
    if (entry.path().extension() != ".toml") continue;
    try {
      ids.push_back(read_shaft(entry.path()).id);
      if (ids.back() == named) files.push_back(entry.path().string());
    } catch (const Error& error) {
      if (entry.path().stem() == named) throw Error(error);  // it is the one that was meant
    }
  }
  if (files.size() == 1) return files.front();
  std::ranges::sort(files);
  std::ranges::sort(ids);
  if (!files.empty())
    throw Error(Trouble::request, "which_shaft",
                fmt::format("several files have the shaft id '{}': {}", named, fmt::join(files, ", ")),
                "name the file that is meant by its path");
  throw Error(Trouble::request, "no_such_shaft",
              fmt::format("{} is no file, and no shaft file in {} has this id", named, folder.string()),
              ids.empty() ? std::string("write its file there, as 'counterspot manual shaft-file' shows it")
                          : fmt::format("name a file, or one of {}", fmt::join(ids, ", ")));
}

}  // namespace counterspot
