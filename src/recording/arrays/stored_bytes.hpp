#pragma once

#include <cstdint>
#include <memory>
#include <span>
#include <string>

namespace counterspot {

/// Bytes that can be read from anywhere in them: of a file, or of a part of an archive.
class StoredBytes {
 public:
  StoredBytes() = default;
  StoredBytes(const StoredBytes&) = delete;
  StoredBytes& operator=(const StoredBytes&) = delete;
  StoredBytes(StoredBytes&&) = delete;
  StoredBytes& operator=(StoredBytes&&) = delete;
  virtual ~StoredBytes() = default;

  virtual std::uint64_t size() const = 0;
  /// All of these bytes, which lie before the end. @throws Error(recording, "unreadable").
  virtual void read(std::uint64_t offset, std::span<char> bytes) = 0;
};

/// Those of a file, which stays open elsewhere. @param file as in messages.
std::unique_ptr<StoredBytes> stored_bytes(int descriptor, std::string file);

}  // namespace counterspot
