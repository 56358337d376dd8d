#include <string>

#include "counterspot/drawing.hpp"
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

using DrawFunction = void (*)(const Picture&, const DrawingOptions&, std::string&);

}  // namespace

std::string draw(const Picture& picture, const DrawingOptions& options) {
  static void* const part = function_of_part("libcounterspot_ink.so", "counterspot_draw", "no_ink", "that draws");
  std::string bytes;
  reinterpret_cast<DrawFunction>(part)(picture, options, bytes);
  return bytes;
}

}  // namespace counterspot
