#include "counterspot/guide/rig_setup_guide.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

#include "counterspot/files/files.hpp"
#include "counterspot/files/shop.hpp"
#include "counterspot/units/error.hpp"
#include "counterspot/units/units.hpp"
#include "files/output_file.hpp"
#include "files/text_file.hpp"
#include "guide/kept_beside.hpp"

namespace counterspot {

namespace {

void overwrite(std::string& kept, const std::string& typed) {
  if (!typed.empty()) kept = typed;
}

}  // namespace

SetupTold setup_beside(const std::filesystem::path& rig_file) {
  const std::filesystem::path kept = kept_beside(rig_file);
  return std::filesystem::exists(kept) ? setup_told_of(text_of_file(kept), kept.string()) : SetupTold{};
}

void keep_setup(const std::filesystem::path& rig_file, const SetupTold& told,
                const std::vector<std::filesystem::path>& read) {
  write_output(kept_beside(rig_file), text_of(told), {Overwrite::all, read});
}

void add_typed(SetupTold& told, const SetupTold& typed) {
  for (std::string SetupTold::*word : {&SetupTold::top_goes, &SetupTold::name, &SetupTold::viewing_end,
                                       &SetupTold::full_scale, &SetupTold::weight, &SetupTold::radius})
    overwrite(told.*word, typed.*word);
  for (std::size_t s : {0U, 1U}) overwrite(told.sensitivity[s], typed.sensitivity[s]);
  // For their errors, before anything is kept.
  for (const std::string& text : told.sensitivity)
    if (!text.empty()) parse_sensitivity(text);
  if (!told.full_scale.empty()) parse_quantity(told.full_scale, Dimension::voltage);
  if (!told.weight.empty()) parse_quantity(told.weight, Dimension::mass);
  if (!told.radius.empty()) parse_quantity(told.radius, Dimension::length);
}

void ask_again(SetupTold& told, const std::vector<SetupStep>& steps) {
  for (const SetupStep step : steps) {
    told.recordings.erase(step);
    if (is_optional(step)) told.wanted.insert(step);
    if (step == SetupStep::direction) told.top_goes.clear();
  }
}

void do_without(SetupTold& told, const std::vector<SetupStep>& steps) {
  for (const SetupStep step : steps) {
    if (!is_optional(step))
      throw Error(Trouble::request, "not_optional",
                  fmt::format("no rig file is found without the step '{}'", setup_step_name(step)),
                  "only sensitivity and sweep can be done without");
    told.recordings.erase(step);
    told.wanted.erase(step);
  }
}

LiveOptions live_options_of(const SetupTold& told) {
  LiveOptions options = live_options_of(told.source_rate, told.source_format);
  const std::string& channels = told.source_channels;
  if (!channels.empty()) {
    options.channels = 0;  // what is no number is refused where it is opened
    std::from_chars(channels.data(), channels.data() + channels.size(), options.channels);
  }
  return options;
}

bool record_from(SetupTold& told, const std::string& source, const LiveOptions& options) {
  if (source == "-" || source == "raw:-") return false;
  const SetupTold before = told;
  told.source = source;
  told.source_rate = fmt::format("{:.10g} Hz", options.sample_rate_Hz);
  told.source_channels = fmt::format("{}", options.channels);
  told.source_format = options.format ? std::string(raw_format_name(*options.format)) : "";
  const auto same = [&](std::string SetupTold::*word) { return before.*word == told.*word; };
  return !before.source.empty() && !(same(&SetupTold::source) && same(&SetupTold::source_rate) &&
                                     same(&SetupTold::source_channels) && same(&SetupTold::source_format));
}

void keep_as_shops(const std::filesystem::path& rig_file, const SetupTold& told) {
  const std::filesystem::path file = std::filesystem::absolute(rig_file).parent_path() / "shop.toml";
  std::error_code unmade;
  std::string text = shop_text_at(file);
  const std::vector<ShopValue> stated = read_shop_text(text, file);
  const auto add = [&](const char* key, const std::string& value, bool anew) {
    const bool known = std::ranges::find(stated, key, &ShopValue::key) != stated.end();
    if (!value.empty() && (anew || !known)) text = with_shop_value(text, key, value);
  };
  add("rig", rig_file.filename().string(), true);
  add("source", told.source, true);
  add("source_rate", told.source_rate, true);
  add("source_channels", told.source_channels, true);
  add("source_format", told.source_format, true);
  add("shafts", "shafts", false);
  add("recordings", "spins", false);
  add("log", "log.db", false);
  read_shop_text(text, file);  // never leave a file that cannot be read
  std::filesystem::create_directories(file.parent_path() / "shafts", unmade);
  write_output(file, text, {Overwrite::all, {}});
}

void add_setup_recording(SetupTold& told, SetupStep step, const std::filesystem::path& file) {
  if (step == SetupStep::direction) {
    throw Error(Trouble::request, "not_asked", "which way the shaft turns is not found from a recording",
                "say it: --top left or --top right, as seen from end A towards B");
  }
  told.recordings[step] = std::filesystem::absolute(file).lexically_normal().string();
  if (step == SetupStep::known) told.known_seen_from = told.viewing_end;
}

std::filesystem::path next_setup_recording(const std::filesystem::path& rig_file, SetupStep step, bool full_scale) {
  std::filesystem::path file = rig_file;
  for (int n = 1; file == rig_file || std::filesystem::exists(file); ++n)
    file = std::filesystem::path(rig_file).replace_extension(
        fmt::format("{}-{}.{}", setup_step_name(step), n, full_scale ? "w64" : "csv"));
  return file;
}

SetupStanding standing_of(const SetupTold& told) {
  return standing_of(told, [](const std::string& name) { return open_recording(name); });
}

bool write_proved(const SetupStanding& standing, SetupTold& told, const std::filesystem::path& rig_file, bool replace,
                  const std::vector<std::filesystem::path>& read, const std::string& language) {
  if (standing.rig_text.empty()) return false;
  const std::string& text = standing.rig_text.in(language);
  read_rig_text(text, rig_file.string());  // never leave a file that cannot be read
  const std::string there = std::filesystem::exists(rig_file) ? text_of_file(rig_file) : "";
  if (there == standing.rig_text.en || there == standing.rig_text.de) return true;
  const bool as_left = !there.empty() && there == told.written;
  write_output(rig_file, text, {replace || as_left ? Overwrite::all : Overwrite::nothing, read});
  told.written = text;
  keep_setup(rig_file, told, read);
  return true;
}

}  // namespace counterspot
