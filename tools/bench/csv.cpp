// Reads a table of numbers with the library, and with a bare fast_float loop over the same text in memory, in turn.
// Prints a line per run: which of the two, wall seconds, processor seconds. Both must find the same numbers, to the
// last bit.
#include <fast_float/fast_float.h>
#include <fmt/format.h>

#include <bit>
#include <chrono>
#include <cstdint>
#include <ctime>
#include <fstream>
#include <functional>
#include <sstream>
#include <string>

#include "counterspot/recording/recording.hpp"

namespace {

/// Sums of the bits of numbers, which agree in any order and cost little beside reading: what is timed is the reading.
std::uint64_t sum_with_library(const std::string& path) {
  auto recording = counterspot::open_recording(path);
  std::uint64_t sum = 0;
  for (auto block = recording->next(4096); !block.empty(); block = recording->next(4096)) {
    for (double value : block) sum += std::bit_cast<std::uint64_t>(value);
  }
  return sum;
}

/// One number after the other; what stands between two of them is one character, and blanks.
std::uint64_t sum_bare(const std::string& text) {
  const char* at = text.data() + text.find('\n') + 1;
  const char* end = text.data() + text.size();
  std::uint64_t sum = 0;
  while (at < end) {
    double value = 0.0;
    auto parsed = fast_float::from_chars(at, end, value);
    sum += std::bit_cast<std::uint64_t>(value);
    at = parsed.ptr + 1;
  }
  return sum;
}

std::uint64_t timed(const char* reader, const std::function<std::uint64_t()>& read) {
  const auto begin = std::chrono::steady_clock::now();
  const std::clock_t begin_cpu = std::clock();  // of all threads
  const std::uint64_t sum = read();
  const double cpu_s = static_cast<double>(std::clock() - begin_cpu) / CLOCKS_PER_SEC;
  fmt::print("{} {} {}\n", reader, std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count(),
             cpu_s);
  return sum;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2) return 2;
  std::ostringstream text;
  text << std::ifstream(argv[1], std::ios::binary).rdbuf();
  const std::string table = text.str();
  constexpr int runs = 7;
  for (int run = 0; run < runs; ++run) {
    const std::uint64_t library_sum = timed("library", [&] { return sum_with_library(argv[1]); });
    const std::uint64_t bare_sum = timed("bare", [&] { return sum_bare(table); });
    if (library_sum != bare_sum) return 2;
  }
}
