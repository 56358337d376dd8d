#include "commands/picture.hpp"

#include <fmt/format.h>

#include <fstream>

#include "counterspot/error.hpp"

namespace counterspot::commands {

void add_picture_options(CLI::App& command, PictureAsked& asked, const std::string& of_what) {
  command
      .add_option("--picture", asked.file,
                  fmt::format("Also draw {} into this file; it ends in .svg, .png or .pdf", of_what))
      ->each([](const std::string& file) { picture_format(file); });
  command.add_flag("--dark", asked.dark, "Draw light on dark, for a screen in the shop");
}

void write_bytes(const std::string& file, const std::string& bytes) {
  std::ofstream stream(file, std::ios::binary);
  stream.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  stream.close();
  if (stream.fail()) {
    throw Error(Trouble::machine, "write_failed", fmt::format("{}: this file could not be written whole", file),
                "check the folder and the space on the disk");
  }
}

void write_picture(const Picture& picture, const PictureAsked& asked) {
  DrawingOptions options;
  options.format = picture_format(asked.file);
  options.theme = asked.dark ? Theme::dark : Theme::light;
  write_bytes(asked.file, draw(picture, options));
}

void refuse_picture_of(const PictureAsked& asked, const std::vector<std::string>& files) {
  if (!asked || (files.size() == 1 && files.front() != "-")) return;
  throw Error(Trouble::request, "picture_of_one",
              "a picture is drawn of one recording in a file, not of several or of standard input",
              "name one file with --picture");
}

}  // namespace counterspot::commands
