#include "commands/picture.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <string_view>
#include <utility>

#include "commands/command.hpp"
#include "commands/log_place.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot::commands {

void add_picture_options(CLI::App& command, PictureAsked& asked, const std::string& of_what) {
  command
      .add_option("--picture", asked.file,
                  fmt::format("Also draw {} into this file; it ends in .svg, .png or .pdf", of_what))
      ->each([](const std::string& file) { picture_format(file); });
  command.add_flag("--dark", asked.dark, "Draw light on dark, for a screen in the shop");
  if (CLI::Option* language = command.get_option_no_throw("--language")) {
    asked.words = &words_of_locale();
    language->each([&asked](const std::string& name) { asked.words = &words_in(name); });
  } else {
    add_language_option(command, asked.words);
  }
  add_replace_option(command, asked.replace);
}

void add_replace_option(CLI::App& command, bool& replace) {
  command.add_flag("--replace", replace, "Write over the file, whatever is in it");
}

OutputRules drawing_rules(bool replace, std::vector<std::filesystem::path> read) {
  return {replace ? Overwrite::all : Overwrite::drawings, std::move(read)};
}

std::vector<std::filesystem::path> files_of_spins(const std::string& spins, const SpinSet& set) {
  std::vector<std::filesystem::path> files{spins, set.rig_path, set.shaft_path};
  for (const SpinEntry& spin : set.spins)
    if (!spin.recording.empty()) files.push_back(spin.recording);
  return files;
}

namespace {

/// When the newest of these files was written, s since 1970 began; empty if none is to be found.
std::optional<std::int64_t> newest_of(const std::vector<std::filesystem::path>& files) {
  std::optional<std::int64_t> newest;
  for (const std::filesystem::path& file : files) {
    std::error_code missing;
    const auto written = std::filesystem::last_write_time(file, missing);
    if (missing) continue;
    const auto at = std::chrono::file_clock::to_sys(written).time_since_epoch();
    newest = std::max(newest.value_or(0), std::chrono::duration_cast<std::chrono::seconds>(at).count());
  }
  return newest;
}

}  // namespace

PictureOf picture_of(const Rig& rig, std::optional<double> speed_rad_s) {
  PictureOf of;
  of.rig = rig.name;
  of.speed_rad_s = speed_rad_s;
  return of;
}

void write_picture(const Picture& picture, PictureOf of, const PictureAsked& asked,
                   std::vector<std::filesystem::path> read) {
  DrawingOptions options;
  options.format = picture_format(asked.file);
  options.theme = asked.dark ? Theme::dark : Theme::light;
  of.program = program_name();
  if (const auto newest = newest_of(read)) {
    options.date_unix_s = *newest;
    of.files_of = utc_text(*newest).substr(0, std::string_view("2026-11-29").size());
  }
  const OutputRules rules = drawing_rules(asked.replace, std::move(read));
  admit_output(asked.file, rules);
  write_output(asked.file, draw(titled(picture, of, *asked.words), options), rules);
}

void refuse_picture_of(const PictureAsked& asked, const std::vector<std::string>& files) {
  if (!asked || (files.size() == 1 && files.front() != "-")) return;
  throw Error(Trouble::request, "picture_of_one",
              "a picture is drawn of one recording in a file, not of several or of standard input",
              "name one file with --picture");
}

}  // namespace counterspot::commands
