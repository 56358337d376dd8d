#include "counterspot/files/files.hpp"
#include "counterspot/shaft/beam.hpp"
#include "counterspot/tolerance/tolerance.hpp"
#include "fuzz.hpp"

/// The shaft's file: its limits, and the beam that it describes.
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t count) {
  using namespace counterspot;
  const std::string text(fuzz::text_of(bytes, count));
  fuzz::let_refuse([&] { limits_of(read_shaft_text(text, "shaft.toml")); });
  fuzz::let_refuse([&] { beam_of(read_shaft_text(text, "shaft.toml")); });
  return 0;
}
