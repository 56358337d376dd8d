#include "fuzz.hpp"

#include <stdlib.h>
#include <sys/mman.h>
#include <unistd.h>

#include <cerrno>
#include <stdexcept>

namespace counterspot::fuzz {

namespace {

class Folder {
 public:
  Folder() {
    std::string pattern = (std::filesystem::temp_directory_path() / "counterspot-fuzz-XXXXXX").string();
    if (mkdtemp(pattern.data()) == nullptr) throw std::runtime_error("no temporary folder");
    path_ = pattern;
    for (const char* name : {"rig.toml", "shaft.toml", "stock.toml"})
      std::filesystem::copy_file(std::filesystem::path(COUNTERSPOT_DATA_DIR) / name, path_ / name);
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  ~Folder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

}  // namespace

MemoryFile::MemoryFile(std::string_view content)
    : number_(memfd_create("fuzz", MFD_CLOEXEC)), path_("/proc/self/fd/" + std::to_string(number_)) {
  while (!content.empty()) {
    const ssize_t put = ::write(number_, content.data(), content.size());
    if (put < 0 && errno == EINTR) continue;
    if (put <= 0) throw std::runtime_error("no memory for a file");
    content.remove_prefix(static_cast<std::size_t>(put));
  }
}

MemoryFile::~MemoryFile() {
  ::close(number_);
}

const std::filesystem::path& demo_folder() {
  static const Folder folder;
  return folder.path();
}

}  // namespace counterspot::fuzz
