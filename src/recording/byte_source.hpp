#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <span>
#include <stop_token>
#include <string>
#include <string_view>

#include "counterspot/recording/recording.hpp"

namespace counterspot {

inline constexpr int look_up_ms = 100;  ///< how long a stop may go unnoticed

/// An open file descriptor that closes itself, except standard input.
class Descriptor {
 public:
  explicit Descriptor(int number = -1) : number_(number) {}
  Descriptor(Descriptor&& other) noexcept;
  Descriptor& operator=(Descriptor&& other) noexcept;
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  ~Descriptor();
  int number() const { return number_; }

 private:
  int number_;
};

/// The bytes of a file or of standard input, front to back. The first of them can be looked at before they are read,
/// which is how a recording's format is recognised by content on a pipe too.
class ByteSource {
 public:
  /// `path` as the person named it; "-" is standard input.
  /// @throws Error(recording, …) "not_found", "unreadable" (a folder, no permission).
  /// @param watch of standard input, which then counts as a pipe; empty: none.
  /// @param stop once asked for, a pipe that has nothing to give counts as ended.
  explicit ByteSource(const std::filesystem::path& path, ByteWatch watch = {}, std::stop_token stop = {});

  const std::string& name() const { return name_; }           ///< for messages
  std::optional<std::int64_t> size() const { return size_; }  ///< of a regular file; empty for a pipe
  int descriptor() const { return descriptor_.number(); }

  /// The first bytes, at most 64 KiB, without moving on.
  std::string_view head();

  /// The next bytes (the first call begins at the start, whatever was looked at); 0 at the end.
  /// @throws Error(machine, "read_failed"); Error(recording, "short_data") if a file shrank since it was opened.
  std::size_t read(std::span<char> bytes);

  /// Copies all that is left to an unlinked temporary file and goes on with that: for formats that must be sought in.
  /// @throws Error(machine, "disk") if there is no room.
  void spool();

 private:
  std::size_t read_descriptor(std::span<char> bytes);
  bool wait_for_bytes() const;

  std::string name_;
  Descriptor descriptor_;
  ByteWatch watch_;  ///< of standard input, until it is spooled
  std::stop_token stop_;
  std::optional<std::int64_t> size_;
  std::int64_t bytes_read_ = 0;
  std::string head_;
  std::size_t head_given_ = 0;  ///< how much of the head `read` has handed out
  bool head_read_ = false;
};

}  // namespace counterspot
