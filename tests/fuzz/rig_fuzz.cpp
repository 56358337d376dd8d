#include "counterspot/files/files.hpp"
#include "fuzz.hpp"

/// The rig's file.
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t count) {
  const std::string text(counterspot::fuzz::text_of(bytes, count));
  counterspot::fuzz::let_refuse([&] { counterspot::read_rig_text(text, "rig.toml"); });
  return 0;
}
