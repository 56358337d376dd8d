#include "recording/audio_header.hpp"

#include <unistd.h>

#include <algorithm>
#include <cstring>

namespace counterspot {

namespace {

/// Random access to the header: of a file anywhere, of a pipe within its first bytes.
class HeaderBytes {
 public:
  explicit HeaderBytes(ByteSource& source) : source_(source), head_(source.head()) {}

  bool get(std::int64_t offset, char* bytes, std::size_t count) const {
    if (offset < 0) return false;
    if (static_cast<std::size_t>(offset) + count <= head_.size()) {
      std::memcpy(bytes, head_.data() + offset, count);
      return true;
    }
    return source_.size() && ::pread(source_.descriptor(), bytes, count, offset) == static_cast<ssize_t>(count);
  }

  std::optional<std::uint64_t> number(std::int64_t offset, std::size_t count, bool big_endian) const {
    unsigned char bytes[8] = {};
    if (!get(offset, reinterpret_cast<char*>(bytes), count)) return std::nullopt;
    if (!big_endian) std::reverse(bytes, bytes + count);
    std::uint64_t value = 0;
    for (std::size_t i = 0; i < count; ++i) value = value << 8U | bytes[i];
    return value;
  }

  bool matches(std::int64_t offset, std::string_view text) const {
    char bytes[16];
    return get(offset, bytes, text.size()) && text == std::string_view(bytes, text.size());
  }

 private:
  ByteSource& source_;
  std::string_view head_;
};

/// Recorders that write to a pipe, or died, leave one of these in the size field: nothing, all ones, or the largest
/// size a signed field holds less a little.
bool left_open(std::uint64_t bytes) {
  return bytes == 0 || bytes == 0xFFFFFFFFU || (bytes >= 0x7FFFF000U && bytes <= 0x7FFFFFFFU);
}

/// RIFF, RIFX, RF64 and FORM: chunks of a 4-byte name, a 4-byte size and an even number of bytes, from byte 12 on.
std::optional<DataPart> find_in_chunks(const HeaderBytes& header, bool big_endian, std::string_view wanted) {
  std::optional<std::uint64_t> long_size;  // of RF64's data part: EBU Tech 3306, chunk "ds64"
  for (std::int64_t at = 12;;) {
    auto size = header.number(at + 4, 4, big_endian);
    if (!size) return std::nullopt;
    if (header.matches(at, "ds64")) long_size = header.number(at + 16, 8, false);
    if (header.matches(at, wanted)) {
      DataPart part{at + 8, at + 4, std::nullopt};
      std::uint64_t bytes = long_size && *size == 0xFFFFFFFFU ? *long_size : *size;
      if (wanted == "SSND") {  // AIFF: an offset and a block size stand between
        part.offset += 8;
        bytes = bytes > 8 ? bytes - 8 : 0;
      }
      bool open = long_size ? bytes == 0 : left_open(bytes);
      if (!open) part.bytes = static_cast<std::int64_t>(bytes);
      return part;
    }
    at += 8 + static_cast<std::int64_t>(*size + (*size & 1U));
  }
}

/// W64: chunks of a 16-byte name, an 8-byte size that counts the 24 bytes of name and size, in steps of 8 bytes.
std::optional<DataPart> find_in_w64(const HeaderBytes& header) {
  for (std::int64_t at = 40;;) {
    auto size = header.number(at + 16, 8, false);
    if (!size || *size < 24 || *size > (std::uint64_t{1} << 60U)) return std::nullopt;
    if (header.matches(at, "data")) return DataPart{at + 24, at + 16, static_cast<std::int64_t>(*size - 24)};
    at += static_cast<std::int64_t>((*size + 7) / 8 * 8);
  }
}

}  // namespace

std::optional<DataPart> find_data_part(ByteSource& source, std::string_view format) {
  HeaderBytes header(source);
  if (format == "W64") return find_in_w64(header);
  if (format == "AIFF") return find_in_chunks(header, true, "SSND");
  if (format == "WAV" || format == "RF64") return find_in_chunks(header, header.matches(0, "RIFX"), "data");
  return std::nullopt;
}

}  // namespace counterspot
