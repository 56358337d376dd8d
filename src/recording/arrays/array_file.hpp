#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace counterspot {

/// An array of numbers in a file, of whatever type they are stored as.
struct ArrayInfo {
  std::string name;                ///< as in the file; empty where the file holds one array and names none
  std::vector<std::size_t> shape;  ///< sizes along its axes
  bool first_axis_fastest =
      false;         ///< neighbours in the file differ in the first index (MATLAB, Fortran), not the last
  std::string type;  ///< "64-bit float"
  int digits = 53;   ///< binary digits that a number has
  bool whole_numbers = false;
  std::string unit = {};                      ///< where the file states one
  std::optional<double> sample_rate_Hz = {};  ///< likewise
};

/// What a file holds besides arrays of numbers.
struct NoNumbers {
  std::string name;
  std::string what;  ///< "text", "complex numbers"
};

/// A file of arrays. Values are those written, as doubles.
class ArrayFile {
 public:
  ArrayFile() = default;
  ArrayFile(const ArrayFile&) = delete;
  ArrayFile& operator=(const ArrayFile&) = delete;
  ArrayFile(ArrayFile&&) = delete;
  ArrayFile& operator=(ArrayFile&&) = delete;
  virtual ~ArrayFile() = default;

  const std::string& format() const { return format_; }  ///< "NumPy"
  const std::vector<ArrayInfo>& arrays() const { return arrays_; }
  const std::vector<NoNumbers>& others() const { return others_; }

  /// The values from `first` on in the order of the file; all of them are within the array, and lie within one row (the
  /// axis along which neighbours differ) or are whole rows. Soonest where a call goes on where an earlier one ended.
  /// @throws Error(recording, "unreadable").
  virtual void read(std::size_t array, std::size_t first, std::span<double> values) = 0;

 protected:
  std::string format_;
  std::vector<ArrayInfo> arrays_;
  std::vector<NoNumbers> others_;
};

}  // namespace counterspot
