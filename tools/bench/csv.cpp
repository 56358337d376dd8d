// Reads a table of numbers with the library, and with a bare fast_float loop over the same text in memory, in turn.
// Prints a line a run: which of the two, wall seconds, processor seconds. The sums of all numbers must agree.
#include <fast_float/fast_float.h>
#include <fmt/format.h>

#include <chrono>
#include <ctime>
#include <fstream>
#include <functional>
#include <sstream>
#include <string>

#include "counterspot/recording.hpp"

namespace {

double sum_with_library(const std::string& path) {
  auto recording = counterspot::open_recording(path);
  double sum = 0.0;
  for (auto block = recording->next(4096); !block.empty(); block = recording->next(4096)) {
    for (double value : block) sum += value;
  }
  return sum;
}

/// One number after the other; whatever stands between two of them is one character.
double sum_bare(const std::string& text) {
  const char* at = text.data() + text.find('\n') + 1;
  const char* end = text.data() + text.size();
  double sum = 0.0;
  while (at < end) {
    double value = 0.0;
    auto parsed = fast_float::from_chars(at, end, value);
    sum += value;
    at = parsed.ptr + 1;
  }
  return sum;
}

double timed(const char* reader, const std::function<double()>& read) {
  const auto begin = std::chrono::steady_clock::now();
  const std::clock_t begin_cpu = std::clock();  // of all threads
  const double sum = read();
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
    const double library_sum = timed("library", [&] { return sum_with_library(argv[1]); });
    const double bare_sum = timed("bare", [&] { return sum_bare(table); });
    if (library_sum != bare_sum) return 2;
  }
}
