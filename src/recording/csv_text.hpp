#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "counterspot/recording/recording.hpp"
#include "counterspot/units/error.hpp"
#include "recording/text_source.hpp"

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

  explicit TextPieces(TextSource& source) : source_(source) {}

  /// Reads the next piece into `piece`, whose room is used again; false if there is none.
  /// @throws Error(recording, "unreadable") for a line longer than a piece.
  bool next(TextPiece& piece);

 private:
  TextSource& source_;
  std::string rest_;  ///< the beginning of a line whose end has not been read
};

/// How a table is written.
struct CsvStyle {
  char separator = ',';            ///< a blank: any number of blanks and tabs
  char decimal = '.';              ///< of cells without quotes
  char quoted_decimal = '.';       ///< of cells in quotes, which may be a comma between commas too
  bool trailing = false;           ///< a separator stands behind the last cell too
  bool has_date_times = false;     ///< any of
  std::vector<bool> date_times{};  ///< which columns hold dates or times of day, read as seconds
  std::int64_t first_day = 0;      ///< from whose midnight these count
};

enum class Quotes { kept, taken_off };

/// The cells of a line, without surrounding blanks. Empty if a quote does not close. Where blanks part the cells, a
/// date and the time of day behind it are one cell.
std::optional<std::vector<std::string>> split_cells(std::string_view line, char separator,
                                                    Quotes quotes = Quotes::taken_off);

/// The words of a header, with a unit in brackets put back to the name before it: "time (s)" is one.
std::vector<std::string> with_units_joined(const std::vector<std::string>& words);

/// The cells of a header whose names have single blanks: two or more, or a tab, part them.
std::vector<std::string> split_at_wide_blanks(std::string_view line);

/// One of the cells that split_cells() gives, without making the others.
std::optional<std::string> cell_of(std::string_view line, char separator, std::size_t column);

/// Whether a line is a remark: it begins with #, % or, where this does not part the cells, with a semicolon.
bool is_comment(std::string_view line, char separator);

/// Whether a line may stand behind the last row without being one: it begins with a letter or a ruled line, or has
/// nothing in its cells.
bool is_footer(std::string_view line, char separator);

/// A number that fills the whole cell.
std::optional<double> cell_number(std::string_view cell, const CsvStyle& style);

/// One cell of a table's body. Moves `at` past the number; false if there is none. Takes quotes, blanks, a plus sign
/// and, before a decimal comma, points between groups of three digits (1.917,24); such points without the comma could
/// be decimal points, and are not taken.
bool parse_cell(const char*& at, const char* end, double& value, const CsvStyle& style);

}  // namespace counterspot
