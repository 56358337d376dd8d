#include <string>

#include "counterspot/drawing/drawing.hpp"
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
using DrawFunction = void (*)(const Picture&, const DrawingOptions&, std::string&);

/// So that the program knows its own drawings. In a PDF the part that draws says it.
void sign(std::string& bytes, PictureFormat format) {
  constexpr std::size_t png_head = 8 + 25;  // signature and IHDR, PNG 5.2 and 11.2.2
  if (format == PictureFormat::png) bytes.insert(png_head, mark_in_png);
  if (format == PictureFormat::svg) bytes.insert(bytes.find('\n') + 1, mark_in_svg_and_html);
}

}  // namespace

std::string draw(const Picture& picture, const DrawingOptions& options) {
  static void* const part = function_of_part("libcounterspot_ink.so", "counterspot_draw", "no_ink", "that draws");
  std::string bytes;
  reinterpret_cast<DrawFunction>(part)(picture, options, bytes);
  sign(bytes, options.format);
  return bytes;
}

}  // namespace counterspot
