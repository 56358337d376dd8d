#include <string>

#include "counterspot/drawing/drawing.hpp"
#include "counterspot/drawing/lettering.hpp"
#include "files/drawn_mark.hpp"
#include "units/part.hpp"

#ifdef __SANITIZE_ADDRESS__
/// Fontconfig keeps what it has found to the end and does not tidy up then. Nothing of ours is in its frames.
extern "C" const char* __lsan_default_suppressions();  // NOLINT(bugprone-reserved-identifier): the sanitizer's name
extern "C" const char* __lsan_default_suppressions() {
  return "leak:libfontconfig.so\n";
}
extern "C" const char* __lsan_default_options();  // NOLINT(bugprone-reserved-identifier)
extern "C" const char* __lsan_default_options() {
  return "print_suppressions=0";
}
#endif

namespace counterspot {

namespace {

/// In a part of its own: Cairo and Pango took the loader 10 ms, and most commands draw nothing.
using DrawFunction = void (*)(std::span<const Picture>, const DrawingOptions&, std::string&);
using BoxesFunction = void (*)(const Picture&, std::vector<TextBox>&);
using LetteringFunction = void (*)(std::string&);

void* of_ink(const char* function) {
  return function_of_part("libcounterspot_ink.so", function, "no_ink", "that draws");
}

std::string in_xml(const std::string& text) {
  std::string safe;
  for (const char letter : text) safe += letter == '<' ? "&lt;" : letter == '&' ? "&amp;" : std::string(1, letter);
  return safe;
}

/// What a picture is, for who hears it read aloud (SVG 2, 5.7): Cairo does not write that.
void say_in_svg(std::string& bytes, const Picture& picture) {
  std::string said;
  if (!picture.title.empty()) said += "<title>" + in_xml(picture.title) + "</title>\n";
  if (!picture.description.empty()) said += "<desc>" + in_xml(picture.description) + "</desc>\n";
  bytes.insert(bytes.find(">\n", bytes.find("<svg")) + 2, said);
}

/// So that the program knows its own drawings. In a PDF the part that draws says it.
void sign(std::string& bytes, PictureFormat format) {
  constexpr std::size_t png_head = 8 + 25;  // signature and IHDR, PNG 5.2 and 11.2.2
  if (format == PictureFormat::png) bytes.insert(png_head, mark_in_png);
  if (format == PictureFormat::svg) bytes.insert(bytes.find('\n') + 1, mark_in_svg_and_html);
}

}  // namespace

std::string draw(std::span<const Picture> pages, const DrawingOptions& options) {
  if (pages.size() > 1 && options.format != PictureFormat::pdf) {
    Picture all = side_by_side({pages.begin(), pages.end()}, 1);
    all.description = pages.front().description;
    return draw(all, options);
  }
  static void* const part = of_ink("counterspot_draw");
  std::string bytes;
  reinterpret_cast<DrawFunction>(part)(pages, options, bytes);
  sign(bytes, options.format);
  if (options.format == PictureFormat::svg) say_in_svg(bytes, pages.front());
  return bytes;
}

std::string draw(const Picture& picture, const DrawingOptions& options) {
  return draw(std::span(&picture, 1), options);
}

std::vector<TextBox> text_boxes(const Picture& picture) {
  static void* const part = of_ink("counterspot_text_boxes");
  std::vector<TextBox> boxes;
  reinterpret_cast<BoxesFunction>(part)(picture, boxes);
  return boxes;
}

std::string lettering_there() {
  static void* const part = of_ink("counterspot_lettering");
  std::string family;
  reinterpret_cast<LetteringFunction>(part)(family);
  return family;
}

}  // namespace counterspot
