#include <fstream>

#include "counterspot/solve/no_phase.hpp"
#include "counterspot/solve/solution.hpp"
#include "fuzz.hpp"

using namespace counterspot;

/// A file of spins, typed ones solved.
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t count) {
  const auto path = fuzz::demo_folder() / "spins.toml";
  std::ofstream(path, std::ios::binary) << fuzz::text_of(bytes, count);
  fuzz::let_refuse([&] { solve(read_spins(path)); });
  fuzz::let_refuse([&] { solve_without_phase(read_amplitude_spins(path)); });
  return 0;
}
