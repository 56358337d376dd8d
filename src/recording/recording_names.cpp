#include "counterspot/recording/recording_names.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <string>
#include <string_view>

namespace counterspot {

bool is_called_recording(const std::filesystem::path& file) {
  constexpr std::array<std::string_view, 14> endings = {".wav", ".rf64", ".w64", ".aif", ".aiff", ".flac", ".csv",
                                                        ".npy", ".npz",  ".mat", ".h5",  ".hdf5", ".uff",  ".unv"};
  std::string ending = file.extension().string();
  std::transform(ending.begin(), ending.end(), ending.begin(), [](unsigned char c) { return std::tolower(c); });
  return std::find(endings.begin(), endings.end(), ending) != endings.end();
}

std::vector<std::filesystem::path> recordings_in(const std::filesystem::path& folder) {
  std::vector<std::filesystem::path> files;
  std::error_code trouble;
  for (const auto& entry : std::filesystem::directory_iterator(folder, trouble)) {
    if (entry.is_regular_file() && is_called_recording(entry.path())) files.push_back(entry.path());
  }
  std::sort(files.begin(), files.end());
  return files;
}

}  // namespace counterspot
