// Reads a table of numbers with the library, and with a bare fast_float loop over the same text in memory, in turn.
// Prints the medians of both in seconds, and the sums of all numbers, which must agree.
#include <fast_float/fast_float.h>
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <fstream>
#include <functional>
#include <sstream>
#include <string>
#include <vector>

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

double seconds(const std::function<void()>& work) {
  auto begin = std::chrono::steady_clock::now();
  work();
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
}

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  return values[values.size() / 2];
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2) return 2;
  std::ostringstream text;
  text << std::ifstream(argv[1], std::ios::binary).rdbuf();
  const std::string table = text.str();
  std::vector<double> library_s;
  std::vector<double> bare_s;
  double library_sum = 0.0;
  double bare_sum = 0.0;
  constexpr int runs = 11;
  for (int run = 0; run < runs; ++run) {
    library_s.push_back(seconds([&] { library_sum = sum_with_library(argv[1]); }));
    bare_s.push_back(seconds([&] { bare_sum = sum_bare(table); }));
  }
  fmt::print("{} {} {} {}\n", median(library_s), median(bare_s), library_sum, bare_sum);
  return library_sum == bare_sum ? 0 : 1;
}
