#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <nlohmann/json_fwd.hpp>
#include <span>
#include <string>
#include <vector>

#include "recording/arrays/array_file.hpp"
#include "recording/arrays/numbers.hpp"
#include "recording/arrays/stored_bytes.hpp"

namespace counterspot {

/// One array, or one for each field of an array of records (NumPy Enhancement Proposal 1, "A Simple File Format for
/// NumPy Arrays"; versions 1, 2 and 3 of the format).
class NpyArrays {
 public:
  struct Field {
    ArrayInfo info;
    NumberType type;
    std::size_t offset = 0;  ///< within a record
  };

  /// Reads the head. @param name of the array; @param file as in messages.
  /// @throws Error(recording, …) "bad_header", "short_data".
  NpyArrays(std::unique_ptr<StoredBytes> bytes, std::string name, std::string file);

  const std::vector<Field>& fields() const { return fields_; }      ///< those that are numbers
  const std::vector<NoNumbers>& others() const { return others_; }  ///< and those that are not

  /// @throws as `ArrayFile::read`.
  void read(std::size_t field, std::size_t first, std::span<double> values);

 private:
  void read_head(const std::string& head);
  void add_field(const std::string& name, const nlohmann::json& descr, const Field& model);

  std::unique_ptr<StoredBytes> bytes_;
  std::string name_;
  std::string file_;
  std::vector<Field> fields_;
  std::vector<NoNumbers> others_;
  std::uint64_t begin_ = 0;  ///< of the first record
  std::size_t record_bytes_ = 0;
  std::vector<char> block_;
};

/// What begins every such array.
inline constexpr std::string_view npy_magic = "\x93NUMPY";

}  // namespace counterspot
