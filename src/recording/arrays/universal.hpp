#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "recording/arrays/array_file.hpp"
#include "recording/arrays/numbers.hpp"
#include "recording/arrays/stored_bytes.hpp"

namespace counterspot {

/// Whether a file begins like a universal file.
bool is_universal(std::string_view head);

/// Time records (dataset 58, as text or with binary values) of a universal file, an exchange format of modal testing
/// (Structural Dynamics Research Laboratory, University of Cincinnati, "Universal File Formats for Modal Analysis
/// Testing", dataset 58; the columns from memory). A record's name is its first line, or the node and direction of its
/// response where that line names nothing, or several records alike.
class UniversalFile final : public ArrayFile {
 public:
  /// Goes through the whole file. @throws Error(recording, …) "bad_header" with the line, "short_data".
  UniversalFile(std::unique_ptr<StoredBytes> bytes, std::string file);
  ~UniversalFile() override;
  UniversalFile(const UniversalFile&) = delete;
  UniversalFile& operator=(const UniversalFile&) = delete;
  UniversalFile(UniversalFile&&) = delete;
  UniversalFile& operator=(UniversalFile&&) = delete;

  void read(std::size_t array, std::size_t first, std::span<double> values) override;

 private:
  class Lines;
  struct Record {
    std::uint64_t begin = 0;         ///< of the values
    std::optional<NumberType> type;  ///< of binary ones
    std::size_t values = 0;
    std::string node;             ///< "12:+Z"
    std::unique_ptr<Lines> text;  ///< where reading goes on, with the values of a line and how many are given out
    std::vector<double> line;
    std::size_t used = 0;
    std::size_t next = 0;  ///< the first value that is not given out
  };

  void read_record(Lines& lines, const std::string& head);
  void name_records();
  void read_text(std::size_t array, std::size_t first, std::span<double> values);
  void read_line(std::size_t array);

  std::unique_ptr<StoredBytes> bytes_;
  std::string file_;
  std::vector<Record> records_;  ///< of each of `arrays_`
  std::optional<int> units_;     ///< the code of dataset 164
  std::vector<char> block_;
};

}  // namespace counterspot
