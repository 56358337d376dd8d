#include "recording/arrays/stored_numbers.hpp"

#include <algorithm>

namespace counterspot {

namespace {

constexpr std::size_t most_in_block = 65536;  // of what is read to be decoded, so that they stay in the cache

}  // namespace

void read_numbers(StoredBytes& bytes, const StoredNumbers& numbers, std::size_t first, std::span<double> values,
                  std::vector<char>& block) {
  const std::uint64_t begin = numbers.begin + std::uint64_t{first} * numbers.stride;
  if (is_double(numbers.type) && numbers.stride == sizeof(double))
    return bytes.read(begin, {reinterpret_cast<char*>(values.data()), values.size_bytes()});
  for (std::size_t done = 0; done < values.size();) {
    const std::size_t count = std::min(most_in_block, values.size() - done);
    block.resize((count - 1) * numbers.stride + numbers.type.bytes);
    bytes.read(begin + std::uint64_t{done} * numbers.stride, block);
    decode_numbers(block.data(), numbers.stride, numbers.type, values.subspan(done, count));
    done += count;
  }
}

}  // namespace counterspot
