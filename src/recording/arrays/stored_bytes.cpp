#include "recording/arrays/stored_bytes.hpp"

#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <string>

#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

class DescriptorBytes final : public StoredBytes {
 public:
  DescriptorBytes(int descriptor, std::uint64_t size, std::string file)
      : descriptor_(descriptor), size_(size), file_(std::move(file)) {}

  std::uint64_t size() const override { return size_; }

  void read(std::uint64_t offset, std::span<char> bytes) override {
    while (!bytes.empty()) {
      const ssize_t got = ::pread(descriptor_, bytes.data(), bytes.size(), static_cast<off_t>(offset));
      if (got < 0 && errno == EINTR) continue;
      if (got <= 0) {
        throw Error(Trouble::recording, got == 0 ? "short_data" : "unreadable",
                    fmt::format("{} {}", file_, got == 0 ? "became shorter while it was read" : "cannot be read"),
                    "wait until whoever writes or copies it is done, and try again");
      }
      bytes = bytes.subspan(static_cast<std::size_t>(got));
      offset += static_cast<std::uint64_t>(got);
    }
  }

 private:
  int descriptor_;
  std::uint64_t size_;
  std::string file_;
};

}  // namespace

std::unique_ptr<StoredBytes> stored_bytes(int descriptor, std::string file) {
  struct stat state {};
  const bool known = ::fstat(descriptor, &state) == 0;
  return std::make_unique<DescriptorBytes>(descriptor, known ? static_cast<std::uint64_t>(state.st_size) : 0,
                                           std::move(file));
}

}  // namespace counterspot
