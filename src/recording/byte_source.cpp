#include "recording/byte_source.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <poll.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <system_error>
#include <utility>
#include <vector>

#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

constexpr std::size_t head_bytes = 64 * 1024;
constexpr int standard_input = 0;

std::string reason(int number) {
  return std::generic_category().message(number);
}

Descriptor open_file(const std::filesystem::path& path, const std::string& name) {
  int number = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  if (number >= 0) return Descriptor(number);
  if (errno == ENOENT || errno == ENOTDIR) {
    throw Error(Trouble::recording, "not_found", fmt::format("there is no file {}", name),
                "check the name and the folder");
  }
  throw Error(Trouble::recording, "unreadable", fmt::format("{} cannot be opened: {}", name, reason(errno)),
              "check that you may read the file");
}

/// The size of a regular file that stands at its start.
std::optional<std::int64_t> size_of(int number, const std::string& name) {
  struct stat status {};
  if (::fstat(number, &status) != 0) return std::nullopt;
  if (S_ISDIR(status.st_mode)) {
    throw Error(Trouble::recording, "unreadable", fmt::format("{} is a folder, not a recording", name),
                "name the recordings in it, one by one or with a pattern such as folder/*.wav");
  }
  if (number != standard_input && (S_ISCHR(status.st_mode) || S_ISBLK(status.st_mode))) {
    throw Error(Trouble::recording, "unreadable", fmt::format("{} is a device, not a recording", name),
                "name a file, or - for standard input; from a sound device 'record' makes a recording");
  }
  if (!S_ISREG(status.st_mode) || ::lseek(number, 0, SEEK_CUR) != 0) return std::nullopt;
  return status.st_size;
}

Error no_room() {
  return {Trouble::machine, "disk", fmt::format("standard input does not fit into a temporary file: {}", reason(errno)),
          "make room on the disk, or save the recording to a file and name that"};
}

}  // namespace

Descriptor::Descriptor(Descriptor&& other) noexcept : number_(std::exchange(other.number_, -1)) {}

Descriptor& Descriptor::operator=(Descriptor&& other) noexcept {
  std::swap(number_, other.number_);
  return *this;
}

Descriptor::~Descriptor() {
  if (number_ > standard_input) ::close(number_);
}

ByteSource::ByteSource(const std::filesystem::path& path, ByteWatch watch, std::stop_token stop)
    : name_(path == "-" ? "standard input" : path.string()),
      descriptor_(path == "-" ? Descriptor(standard_input) : open_file(path, name_)),
      watch_(path == "-" ? std::move(watch) : ByteWatch{}),
      stop_(std::move(stop)),
      size_(watch_ ? std::nullopt : size_of(descriptor_.number(), name_)) {}

std::size_t ByteSource::read_descriptor(std::span<char> bytes) {
  std::size_t done = 0;
  while (done < bytes.size() && wait_for_bytes()) {
    ssize_t got = ::read(descriptor_.number(), bytes.data() + done, bytes.size() - done);
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) {
      throw Error(Trouble::machine, "read_failed", fmt::format("{} cannot be read: {}", name_, reason(errno)),
                  "copy the recording to a sound disk and try again");
    }
    if (got == 0) break;
    done += static_cast<std::size_t>(got);
  }
  bytes_read_ += static_cast<std::int64_t>(done);
  if (done < bytes.size() && size_ && bytes_read_ < *size_) {
    throw Error(Trouble::recording, "short_data", fmt::format("{} became shorter while it was read", name_),
                "wait until whoever writes or copies it is done, and try again");
  }
  if (watch_ && done > 0) watch_(bytes.first(done));
  return done;
}

/// False: asked to stop first. Who cannot be asked waits in `read` itself.
bool ByteSource::wait_for_bytes() const {
  if (size_ || !stop_.stop_possible()) return true;
  pollfd wanted{descriptor_.number(), POLLIN, 0};
  while (!stop_.stop_requested())
    if (::poll(&wanted, 1, look_up_ms) > 0) return true;
  return false;
}

std::string_view ByteSource::head() {
  if (!head_read_) {
    head_.resize(head_bytes);
    head_.resize(read_descriptor(head_));
    head_read_ = true;
  }
  return head_;
}

std::size_t ByteSource::read(std::span<char> bytes) {
  std::size_t from_head = std::min(bytes.size(), head_.size() - head_given_);
  std::memcpy(bytes.data(), head_.data() + head_given_, from_head);
  head_given_ += from_head;
  return from_head + read_descriptor(bytes.subspan(from_head));
}

void ByteSource::spool() {
  std::string name = (std::filesystem::temp_directory_path() / "counterspot-XXXXXX").string();
  Descriptor copy(::mkostemp(name.data(), O_CLOEXEC));
  if (copy.number() < 0) throw no_room();
  ::unlink(name.c_str());
  std::vector<char> block(head_bytes);
  std::int64_t total = 0;
  while (std::size_t got = read(block)) {
    for (std::size_t done = 0; done < got;) {
      ssize_t put = ::write(copy.number(), block.data() + done, got - done);
      if (put < 0 && errno == EINTR) continue;
      if (put <= 0) throw no_room();
      done += static_cast<std::size_t>(put);
    }
    total += static_cast<std::int64_t>(got);
  }
  ::lseek(copy.number(), 0, SEEK_SET);
  descriptor_ = std::move(copy);
  watch_ = {};
  size_ = total;
  bytes_read_ = 0;
  head_given_ = head_.size();
}

void read_rest_of_input(const ByteWatch& watch) {
  ByteSource rest("-", watch);
  std::vector<char> block(head_bytes);
  while (rest.read(block) > 0) {
  }
}

}  // namespace counterspot
