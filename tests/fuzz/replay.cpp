#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <iterator>
#include <random>
#include <vector>

#include "fuzz.hpp"

namespace {

namespace fs = std::filesystem;
using Bytes = std::vector<char>;

constexpr std::size_t longest = 1 << 16;

std::vector<fs::path> files_of(const std::vector<fs::path>& places) {
  std::vector<fs::path> files;
  for (const fs::path& place : places) {
    if (!fs::is_directory(place)) {
      files.push_back(place);
      continue;
    }
    for (const auto& entry : fs::directory_iterator(place))
      if (entry.is_regular_file()) files.push_back(entry.path());
  }
  std::sort(files.begin(), files.end());
  return files;
}

/// Damages inputs, the same way in every run: the numbers of std::mt19937_64 are set down in the C++ standard.
class Damage {
 public:
  Bytes changed(Bytes bytes) {
    bytes.resize(std::min(bytes.size(), longest));
    for (std::size_t times = 1 + below(6); times > 0; --times) change(bytes);
    return bytes;
  }
  std::size_t below(std::size_t end) { return end == 0 ? 0 : numbers_() % end; }

 private:
  void change(Bytes& bytes) {
    const auto at = bytes.begin() + static_cast<std::ptrdiff_t>(below(bytes.size() + 1));
    const auto end = at + static_cast<std::ptrdiff_t>(below(std::min<std::size_t>(64, bytes.end() - at) + 1));
    switch (below(6)) {
      case 0:
        if (at != bytes.end()) *at = static_cast<char>(*at ^ (1 << below(8)));
        break;
      case 1:
        if (at != bytes.end()) *at = static_cast<char>(below(256));
        break;
      case 2: bytes.erase(at, end); break;
      case 3: {
        const Bytes piece(at, end);
        bytes.insert(bytes.begin() + static_cast<std::ptrdiff_t>(below(bytes.size() + 1)), piece.begin(), piece.end());
        break;
      }
      case 4: {
        static constexpr const char* texts[] = {"0",  "-1", "1e308", "nan", "inf", "99999999999999999999",
                                                "\"", "[",  "}",     "\n"};
        const char* text = texts[below(std::size(texts))];
        bytes.insert(bytes.erase(at, end), text, text + std::strlen(text));
        break;
      }
      default: bytes.erase(at, bytes.end());
    }
  }

  std::mt19937_64 numbers_;
};

void show(const Bytes& bytes) {
  LLVMFuzzerTestOneInput(reinterpret_cast<const std::uint8_t*>(bytes.data()), bytes.size());
}

}  // namespace

/// Shows a target every file of the folders and files named, so that what once was a finding stays mended, and then a
/// number of damaged ones; also with a compiler that has no fuzzer. What a target does wrong ends the program, and the
/// input that did it is in the file named. Usage: NUMBER-OF-DAMAGED FILE-FOR-THE-LAST PLACE...
int main(int argc, char** argv) {
  if (argc < 4) return 2;
  std::vector<Bytes> inputs;
  for (const fs::path& path : files_of({argv + 3, argv + argc})) {
    std::ifstream file(path, std::ios::binary);
    inputs.emplace_back(std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>());
    std::fprintf(stderr, "%s\n", path.c_str());
    show(inputs.back());
  }
  if (inputs.empty()) return 1;
  Damage damage;
  const int damaged = std::atoi(argv[1]);
  for (int i = 0; i < damaged; ++i) {
    const Bytes bytes = damage.changed(inputs[damage.below(inputs.size())]);
    std::ofstream(argv[2], std::ios::binary).write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
    show(bytes);
  }
  std::printf("%zu inputs, and %d damaged ones\n", inputs.size(), damaged);
  return 0;
}
