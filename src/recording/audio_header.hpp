#pragma once

#include <cstdint>
#include <optional>
#include <string_view>

#include "recording/byte_source.hpp"

namespace counterspot {

/// What the header of a WAV, RF64, W64 or AIFF file says about its data part. libsndfile cuts this down to what the
/// file holds without a word, so it is looked up here.
struct DataPart {
  std::int64_t offset = 0;            ///< of its first byte in the file
  std::int64_t size_offset = 0;       ///< of the 32-bit size field in front of it (WAV, AIFF)
  std::optional<std::int64_t> bytes;  ///< announced; empty if the recorder left the length open, as on a pipe
};

/// Empty if no data part is found. On a pipe only the first 64 KiB are searched.
std::optional<DataPart> find_data_part(ByteSource& source, std::string_view format);

}  // namespace counterspot
