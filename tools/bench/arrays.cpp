// Reads a file of arrays with the library, and its bare bytes, in turn. Prints a line per run: which of the two, wall
// seconds, processor seconds.
#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <bit>
#include <chrono>
#include <cstdint>
#include <ctime>
#include <functional>
#include <string>
#include <vector>

#include "counterspot/recording/recording.hpp"

namespace {

std::uint64_t read_with_library(const std::string& path) {
  counterspot::RecordingOptions options;
  options.sample_rate_Hz = 51200.0;
  const auto recording = counterspot::open_recording(path, options);
  std::uint64_t sum = 0;
  for (auto block = recording->next(4096); !block.empty(); block = recording->next(4096))
    for (const double value : block) sum += std::bit_cast<std::uint64_t>(value);
  return sum;
}

std::uint64_t read_bare(const std::string& path) {
  const int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  std::vector<std::uint64_t> block(4096 * 4);
  std::uint64_t sum = 0;
  ssize_t got = 0;
  while ((got = ::read(file, block.data(), block.size() * sizeof block[0])) > 0)
    for (std::size_t i = 0; i < static_cast<std::size_t>(got) / sizeof block[0]; ++i) sum += block[i];
  ::close(file);
  return sum;
}

void timed(const char* reader, const std::function<std::uint64_t()>& read) {
  const auto begin = std::chrono::steady_clock::now();
  const std::clock_t begin_cpu = std::clock();
  const std::uint64_t sum = read();
  const double cpu_s = static_cast<double>(std::clock() - begin_cpu) / CLOCKS_PER_SEC;
  fmt::print("{} {} {} {}\n", reader, std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count(),
             cpu_s, sum);
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2) return 2;
  constexpr int runs = 7;
  for (int run = 0; run < runs; ++run) {
    timed("library", [&] { return read_with_library(argv[1]); });
    timed("bare", [&] { return read_bare(argv[1]); });
  }
}
