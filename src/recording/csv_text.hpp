#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "counterspot/error.hpp"
#include "counterspot/recording.hpp"
#include "recording/byte_source.hpp"

namespace counterspot {

/// The text of a table in large pieces that end at a line's end. Text between `begin` and `end` is followed by a
/// newline that can be read, so that a parser need not look at the length.
class TextBlocks {
 public:
  explicit TextBlocks(ByteSource& source) : source_(source) {}

  /// Keeps what lies after `from` and reads on; false if nothing more came.
  /// @throws Error(recording, "unreadable") for a line longer than a piece.
  bool read_on(const char* from);

  const char* begin() const { return text_.data(); }
  const char* end() const { return text_.data() + whole_; }    ///< after the last whole line
  bool last_line_is_cut() const { return last_line_is_cut_; }  ///< the text ends without a newline

 private:
  ByteSource& source_;
  std::vector<char> text_;
  std::size_t held_ = 0;   ///< bytes held
  std::size_t whole_ = 0;  ///< of them, in whole lines
  bool last_line_is_cut_ = false;
};

/// How a table is written.
struct CsvStyle {
  char separator = ',';
  char decimal = '.';
};

/// The cells of a line, without surrounding spaces and quotes. Empty if a quote does not close.
std::optional<std::vector<std::string>> split_cells(std::string_view line, char separator);

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
