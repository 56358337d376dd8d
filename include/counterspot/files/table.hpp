#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace counterspot {

/// One row of a table of results: what it tells, each under the name of its column, with the unit in that name:
/// "amplitude (mm/s)". What is not known is not added, and its cell is empty.
class TableRow {
 public:
  /// In as few digits as give the same number back. Nothing if it is not finite.
  void number(std::string column, double value);
  void number(std::string column, const std::optional<double>& value);
  void text(std::string column, std::string_view value);

  const std::vector<std::pair<std::string, std::string>>& cells() const { return cells_; }

 private:
  std::vector<std::pair<std::string, std::string>> cells_;
};

/// Text as it stands in a cell. What spreadsheets would take for a formula gets an apostrophe in front: names of files,
/// shafts and spins come from others, and a formula can send away what else is in the sheet. Numbers are left alone,
/// also "-12" as a name. What was typed stands unchanged in JSON.
std::string cell_text(std::string_view text);

/// The columns of a table, in the order in which rows first named them.
class TableColumns {
 public:
  explicit TableColumns(const std::vector<std::string>& first = {});

  /// Gives every column of the row a place. @return whether one is new.
  bool add(const TableRow& row);
  const std::vector<std::string>& names() const { return names_; }
  std::string head() const;                     ///< the table's first line
  std::string line(const TableRow& row) const;  ///< all columns of the row must have a place

 private:
  std::vector<std::string> names_;
  std::map<std::string, std::size_t, std::less<>> places_;
};

}  // namespace counterspot
