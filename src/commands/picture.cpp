#include "commands/picture.hpp"

#include <fmt/format.h>

#include <utility>

#include "counterspot/units/error.hpp"

namespace counterspot::commands {

void add_picture_options(CLI::App& command, PictureAsked& asked, const std::string& of_what) {
  command
      .add_option("--picture", asked.file,
                  fmt::format("Also draw {} into this file; it ends in .svg, .png or .pdf", of_what))
      ->each([](const std::string& file) { picture_format(file); });
  command.add_flag("--dark", asked.dark, "Draw light on dark, for a screen in the shop");
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

void write_picture(const Picture& picture, const PictureAsked& asked, std::vector<std::filesystem::path> read) {
  const OutputRules rules = drawing_rules(asked.replace, std::move(read));
  admit_output(asked.file, rules);
  DrawingOptions options;
  options.format = picture_format(asked.file);
  options.theme = asked.dark ? Theme::dark : Theme::light;
  write_output(asked.file, draw(picture, options), rules);
}

void refuse_picture_of(const PictureAsked& asked, const std::vector<std::string>& files) {
  if (!asked || (files.size() == 1 && files.front() != "-")) return;
  throw Error(Trouble::request, "picture_of_one",
              "a picture is drawn of one recording in a file, not of several or of standard input",
              "name one file with --picture");
}

}  // namespace counterspot::commands
