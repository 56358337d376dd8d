#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "recording/arrays/numbers.hpp"
#include "recording/arrays/stored_bytes.hpp"

namespace counterspot {

/// Numbers of one type among stored bytes, each as far behind the one before.
struct StoredNumbers {
  std::uint64_t begin = 0;  ///< of the first
  std::size_t stride = 8;   ///< bytes from one to the next
  NumberType type;
};

/// Those from `first` on, which all lie before the end. What the machine has as its own is read to where it is wanted,
/// all else by way of `block`. @throws as `StoredBytes::read`.
void read_numbers(StoredBytes& bytes, const StoredNumbers& numbers, std::size_t first, std::span<double> values,
                  std::vector<char>& block);

}  // namespace counterspot
