#include "counterspot/files/files.hpp"
#include "counterspot/placement/stock.hpp"
#include "fuzz.hpp"

using namespace counterspot;

/// The stock of weights, laid out in pieces and places.
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t count) {
  static const Shaft shaft = read_shaft(fuzz::demo_folder() / "shaft.toml");
  const fuzz::MemoryFile file(fuzz::text_of(bytes, count));
  fuzz::let_refuse([&] {
    const Stock stock = read_stock(file.path(), shaft);
    pieces_of(stock);
    for (const Plane& plane : shaft.planes) open_positions(stock.rules_of(plane.name));
  });
  return 0;
}
