#pragma once

#include <cstdint>
#include <set>
#include <string>
#include <vector>

#include "counterspot/files/table.hpp"
#include "files/result_form.hpp"

namespace counterspot {

/// A file of results that only grows, by what was found of one file at a time, whole and readable by others from then
/// on. Opened again it goes on: of what a kill cut off, only what is whole stays.
class GrowingResults {
 public:
  /// @throws Error(request, "bad_ending", "not_results"), Error(machine, "write_failed").
  explicit GrowingResults(const std::string& name);
  ~GrowingResults();
  GrowingResults(const GrowingResults&) = delete;
  GrowingResults& operator=(const GrowingResults&) = delete;
  GrowingResults(GrowingResults&&) = delete;
  GrowingResults& operator=(GrowingResults&&) = delete;

  bool holds(const std::string& file) const;  ///< also from an earlier run
  /// @param document one line of JSON, an object that begins with "file". @param rows the same for a table, `file` the
  /// first column. @throws Error(machine, "write_failed"); what was written before stays.
  void add(const std::string& file, const std::string& document, const std::vector<TableRow>& rows);
  void keep() const;  ///< on the disk when this returns

 private:
  void read_lines();
  std::string file_of(const std::string& line) const;
  void read_table();
  void write_anew(const std::string& text);
  void open_to_append();
  void cut_to_end() const;
  void append(const std::string& text, const std::string& tail = "");
  std::string text_of_rows(const std::vector<TableRow>& rows);

  std::string name_;
  ResultForm form_;
  std::set<std::string> files_;  ///< as they stand in the file
  TableColumns columns_;         ///< of a table
  std::uintmax_t end_ = 0;       ///< of the last whole document
  int descriptor_ = -1;
};

}  // namespace counterspot
