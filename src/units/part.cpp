#include "units/part.hpp"

#include <dlfcn.h>

#include "counterspot/units/error.hpp"

#ifdef __SANITIZE_THREAD__
/// Libraries of the parts that guard their tables in ways that the sanitizer does not see, not being compiled with it.
extern "C" const char* __tsan_default_suppressions();  // NOLINT(bugprone-reserved-identifier): the sanitizer's name
extern "C" const char* __tsan_default_suppressions() {
  return "called_from_lib:libcpp-httplib.so\ncalled_from_lib:libfontconfig.so\ncalled_from_lib:libglib-2.0.so\n"
         "called_from_lib:libpangoft2-1.0.so\n";
}
#endif

namespace counterspot {

void* function_of_part(const char* file, const char* function, const char* code, const std::string& purpose) {
  void* part = dlopen(file, RTLD_NOW | RTLD_LOCAL);
  if (part == nullptr) {
    const char* why = dlerror();  // NOLINT(concurrency-mt-unsafe): in the calling thread
    throw Error(Trouble::machine, code, "the part " + purpose + " cannot be loaded: " + why,
                "install Counterspot whole, with the libraries it names");
  }
  void* found = dlsym(part, function);
  if (found == nullptr) {
    throw Error(Trouble::machine, code, std::string(file) + " is not of this version",
                "install Counterspot whole, in one version");
  }
  return found;
}

}  // namespace counterspot
