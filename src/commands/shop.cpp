#include "commands/shop.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <memory>
#include <set>

#include "commands/command.hpp"
#include "commands/output.hpp"
#include "counterspot/drawing/command_words.hpp"
#include "counterspot/files/shop.hpp"
#include "counterspot/units/error.hpp"
#include "files/file_keys.hpp"

namespace counterspot::commands {

namespace {

namespace fs = std::filesystem;

std::string environment(const std::string& name) {
  const char* value = std::getenv(name.c_str());  // NOLINT(concurrency-mt-unsafe): before any thread
  return value == nullptr ? "" : value;
}

/// XDG Base Directory Specification 0.8; empty if there is no home either.
fs::path users_shop_file() {
  const std::string config = environment("XDG_CONFIG_HOME");
  if (config.starts_with('/')) return fs::path(config) / "counterspot" / "shop.toml";
  const std::string home = environment("HOME");
  return home.empty() ? fs::path() : fs::path(home) / ".config" / "counterspot" / "shop.toml";
}

/// COUNTERSPOT_RIG, and so on.
std::vector<ShopValue> environments_values() {
  std::vector<ShopValue> values;
  for (const FileKey& key : keys_of(FileKind::shop)) {
    std::string name = "COUNTERSPOT_";
    for (const char c : key.name()) name += c == '_' ? c : static_cast<char>(c - 'a' + 'A');
    const std::string value = environment(name);
    if (!value.empty()) values.push_back({std::string(key.name()), value, name, 0});
  }
  return values;
}

}  // namespace

std::vector<ShopValue> shop_values() {
  std::vector<ShopValue> values = environments_values();
  const fs::path near = shop_file_at(".");
  const fs::path users = users_shop_file();
  std::error_code unseen;
  if (!near.empty()) values = nearer_first(values, read_shop(near));
  if (!users.empty() && users != near && fs::exists(users, unseen)) values = nearer_first(values, read_shop(users));
  return values;
}

namespace {

std::string stands_at(const ShopValue& value) {
  return value.line == 0 ? value.from.string() : fmt::format("{}:{}", value.from.string(), value.line);
}

/// The step that is asked for, with the names that lead to it: "job open".
std::pair<CLI::App*, std::string> asked_step(CLI::App& program, const std::vector<std::string>& typed) {
  CLI::App* at = &program;
  std::string name;
  for (const std::string& word : typed) {
    const auto next = at->get_subcommands([&](CLI::App* each) { return each->get_name() == word; });
    if (next.empty()) break;
    at = next.front();
    name += (name.empty() ? "" : " ") + word;
  }
  return {at, name};
}

/// What options of a step a key fills. One that changes what is found, as a rig does for a recording that is only
/// looked at, is filled only where a command cannot do without it.
std::vector<std::string> options_filled(const std::string& key, const std::string& step) {
  static const std::set<std::string> rig_steps = {"track",       "sweep",     "console",        "job open",
                                                  "rig qualify", "rig check", "rig recalibrate"};
  const bool works_on_log = step.starts_with("job") || step.starts_with("rig") || step.starts_with("log") ||
                            step == "sheet" || step == "console";
  if (key == "language" || key == "units") return {key};
  if (key == "log") return works_on_log ? std::vector<std::string>{key} : std::vector<std::string>{};
  if (key == "rig") return rig_steps.contains(step) ? std::vector<std::string>{key} : std::vector<std::string>{};
  if (key == "stock")
    return step == "place" || step == "shaft" || step == "console" || step.starts_with("job")
               ? std::vector<std::string>{key}
               : std::vector<std::string>{};
  if (step == "console" && key.starts_with("source_")) return {key.substr(std::string("source_").size())};
  if (step == "console" || step == "job spin" || (step == "job open" && key == "shafts")) {
    std::string option = key;
    std::ranges::replace(option, '_', '-');
    return {option};
  }
  return {};
}

bool is_typed(const std::vector<std::string>& typed, const std::string& option) {
  return std::ranges::any_of(typed,
                             [&](const std::string& word) { return word == option || word.starts_with(option + "="); });
}

void refuse_what_is_not_there(const ShopValue& value) {
  std::error_code unseen;
  if ((value.key != "rig" && value.key != "stock") || fs::exists(value.value, unseen)) return;
  throw Error(
      Trouble::request, "not_found", fmt::format("{}: {}: {} is not there", stands_at(value), value.key, value.value),
      fmt::format("mend it there with 'counterspot shop {} FILE', or name another with --{}", value.key, value.key));
}

std::string told_lines(const std::vector<ShopValue>& used) {
  std::vector<std::string> parts;
  for (const ShopValue& value : used)
    parts.push_back(fmt::format("{} = {} ({})", value.key, value.value, stands_at(value)));
  return fmt::format("{}", fmt::join(parts, "\n"));
}

}  // namespace

void fill_from_shop(CLI::App& program, const std::vector<std::string>& typed) {
  const auto [command, step] = asked_step(program, typed);
  const std::set<std::string> without = {"", "shop", "doctor", "manual", "completion", "job", "rig", "log"};
  if (without.contains(step) || is_typed(typed, "--help") || is_typed(typed, "-h")) return;
  std::vector<ShopValue> used;
  for (const ShopValue& value : shop_values()) {
    for (const std::string& name : options_filled(value.key, step)) {
      CLI::Option* option = command->get_option_no_throw("--" + name);
      if (option == nullptr || is_typed(typed, "--" + name)) continue;
      refuse_what_is_not_there(value);
      try {
        option->run_callback_for_default()->default_val(value.value)->required(false);
      } catch (const CLI::Error&) {
        throw Error(Trouble::request, "bad_value",
                    fmt::format("{}: {} cannot be '{}'", stands_at(value), value.key, value.value),
                    "'counterspot manual shop-file' says what it can be");
      }
      if (value.key == "rig" || value.key == "stock" || value.key == "log") used.push_back(value);
    }
  }
  if (!used.empty()) print_progress(told_lines(used));
}

std::string shop_value(const std::string& key) {
  for (const ShopValue& value : shop_values()) {
    if (value.key != key) continue;
    refuse_what_is_not_there(value);
    return value.value;
  }
  return "";
}

fs::path shop_file_of(const std::string& rig) {
  for (const ShopValue& value : shop_values())
    if (value.key == "rig" && value.line > 0 && value.value == rig) return value.from;
  const fs::path near = shop_file_at(".");
  return near.empty() ? fs::absolute(rig).lexically_normal().parent_path() / "shop.toml" : near;
}

const Words& words_here(const std::vector<std::string>& typed) {
  if (const Words* asked = words_asked(typed)) return *asked;
  try {
    const std::string language = shop_value("language");
    return language.empty() ? words_of_locale() : words_in(language);
  } catch (const Error&) {
    return words_of_locale();  // the file is broken, which whoever needs it says
  }
}

namespace {

struct ShopAsked {
  std::string key, value;
  bool user = false;
  bool json = false;
};

/// As it is to stand in the file: a path as seen from there.
std::string value_there(const ShopAsked& asked, const fs::path& file) {
  if (!is_shop_path(asked.key, asked.value)) return asked.value;
  const fs::path there = fs::absolute(asked.value).lexically_normal();
  return asked.user ? there.string() : there.lexically_proximate(file.parent_path()).string();
}

fs::path set_value(const ShopAsked& asked) {
  fs::path file = shop_file_at(".");
  if (file.empty()) file = fs::absolute("shop.toml");
  if (asked.user) file = users_shop_file();
  if (file.empty())
    throw Error(Trouble::request, "no_home", "there is no home folder to keep the file in",
                "leave --user out, or set XDG_CONFIG_HOME");
  const std::string there = value_there(asked, file);
  for (const ShopValue& value : read_shop_text(with_shop_value(shop_text_at(file), asked.key, there), file))
    if (value.key == asked.key) refuse_what_is_not_there(value);
  state_in_shop(file, asked.key, there);
  return file;
}

void show_values(const ShopAsked& asked) {
  const std::vector<ShopValue> values = shop_values();
  if (asked.json) {
    Json document = Json::object();
    for (const ShopValue& value : values) document[value.key] = {{"value", value.value}, {"from", value.from.string()}};
    return print_json(document);
  }
  for (const ShopValue& value : values)
    print(fmt::format("{:<16} {}  ({})\n", value.key, value.value, stands_at(value)));
  if (values.empty()) print(say(words_here({}).commands().next, "counterspot shop rig rig.toml"));
}

}  // namespace

void add_shop(CLI::App& program, int& /*exit_code*/) {
  auto asked = std::make_shared<ShopAsked>();
  CLI::App* command = program.add_subcommand("shop", "The shop's defaults, which no command need be told again");
  command->add_option("key", asked->key, "Which to set: rig, stock, log, shafts, …; without it all are shown");
  command->add_option("value", asked->value, "To what");
  command->add_flag("--user", asked->user,
                    "In the user's own file, for all folders; else in shop.toml here, or that of a folder above");
  command->add_flag("--json", asked->json, "One JSON document for programs");
  command->footer("Example:\n  counterspot shop rig rig.toml\n  counterspot shop");
  command->callback([asked] {
    if (asked->key.empty()) return show_values(*asked);
    if (asked->value.empty())
      throw Error(Trouble::request, "no_value", fmt::format("it is not said what {} is to be", asked->key),
                  fmt::format("write 'counterspot shop {} VALUE'", asked->key));
    const fs::path file = set_value(*asked);
    asked->json ? print_json({{"written", file.string()}}) : print(file.string() + "\n");
  });
}

}  // namespace counterspot::commands
