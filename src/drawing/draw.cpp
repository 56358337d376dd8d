#include <dlfcn.h>

#include <string>

#include "counterspot/drawing.hpp"
#include "counterspot/error.hpp"

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

/// Loaded once and kept: Pango does not like to be unloaded.
DrawFunction drawing_part() {
  void* part = dlopen("libcounterspot_ink.so", RTLD_NOW | RTLD_LOCAL);
  if (part == nullptr) {
    const char* why = dlerror();  // NOLINT(concurrency-mt-unsafe): in the calling thread
    throw Error(Trouble::machine, "no_ink", std::string("the part that draws cannot be loaded: ") + why,
                "install Counterspot whole, with Cairo and Pango");
  }
  void* function = dlsym(part, "counterspot_draw");
  if (function == nullptr) {
    throw Error(Trouble::machine, "no_ink", "libcounterspot_ink.so is not of this version",
                "install Counterspot whole, in one version");
  }
  return reinterpret_cast<DrawFunction>(function);
}

}  // namespace

std::string draw(const Picture& picture, const DrawingOptions& options) {
  static const DrawFunction part = drawing_part();
  std::string bytes;
  part(picture, options, bytes);
  return bytes;
}

}  // namespace counterspot
