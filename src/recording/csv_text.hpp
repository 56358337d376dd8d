#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "counterspot/recording/recording.hpp"
#include "counterspot/units/error.hpp"
#include "recording/byte_source.hpp"

namespace counterspot {

/// A part of a table's text that ends at a line's end. Behind it a newline and a few more bytes can be read, so that a
/// parser need not look at the length.
struct TextPiece {
  std::vector<char> bytes;
  std::size_t begin_at = 0;  ///< of what is to be parsed
  std::size_t size = 0;      ///< up to the end of the last whole line
  bool is_cut = false;       ///< the last line has no newline

  const char* begin() const { return bytes.data() + begin_at; }
  const char* end() const { return bytes.data() + size; }
};

/// The text of a table, piece by piece.
class TextPieces {
 public:
  static constexpr std::size_t most_bytes = std::size_t{1} << 18;  ///< in a piece, which so stays in the cache

  explicit TextPieces(ByteSource& source) : source_(source) {}

  /// Reads the next piece into `piece`, whose room is used again; false if there is none.
  /// @throws Error(recording, "unreadable") for a line longer than a piece.
  bool next(TextPiece& piece);

 private:
  ByteSource& source_;
  std::string rest_;  ///< the beginning of a line whose end has not been read
};

/// How a table is written.
struct CsvStyle {
  char separator = ',';
  char decimal = '.';
};

/// The cells of a line, without surrounding spaces and quotes. Empty if a quote does not close.
std::optional<std::vector<std::string>> split_cells(std::string_view line, char separator);

/// One cell of a line that has it and whose quotes close.
std::string cell_of(std::string_view line, char separator, std::size_t column);

/// "accel (g)" → {"accel", "g"}.
ChannelInfo split_header(const std::string& cell);

/// A number that fills the whole cell.
std::optional<double> cell_number(std::string_view cell, char decimal);

/// One cell of a table's body. Moves `at` past the number; false if there is none. Takes quotes, spaces and a plus
/// sign.
bool parse_cell(const char*& at, const char* end, double& value, const CsvStyle& style);

/// Beginning and names of a table: all that is known before its rows.
struct CsvHead {
  CsvStyle style;
  std::vector<ChannelInfo> columns;
  std::size_t body_offset = 0;  ///< of the first row in the text
  std::int64_t body_line = 1;   ///< 1-based line of it
};

/// @throws Error(recording, …) "unreadable" (not a text), "no_data", "bad_header".
CsvHead read_csv_head(std::string_view text, const std::string& name);

}  // namespace counterspot
