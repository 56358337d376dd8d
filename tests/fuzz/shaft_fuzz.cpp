#include "counterspot/files.hpp"
#include "counterspot/shaft_details.hpp"
#include "counterspot/tolerance.hpp"
#include "fuzz.hpp"

/// The shaft's file: read twice over, as `solve` and as `shaft` do, and its limits.
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t count) {
  using namespace counterspot;
  const std::string text(fuzz::text_of(bytes, count));
  fuzz::let_refuse([&] { limits_of(read_shaft_text(text, "shaft.toml")); });
  fuzz::let_refuse([&] {
    const fuzz::MemoryFile file(text);
    read_shaft_details(file.path(), read_shaft(file.path()));
  });
  return 0;
}
