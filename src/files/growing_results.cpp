#include "files/growing_results.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <utility>

#include "counterspot/units/error.hpp"
#include "files/csv.hpp"
#include "files/output_file.hpp"

namespace counterspot {

namespace {

constexpr const char* file_column = "file";
constexpr const char* end_of_array = "\n]\n";

Error cannot_write(const std::string& file) {
  return {Trouble::machine, "write_failed", fmt::format("{}: the results cannot be written there", file),
          "check the folder and the space on the disk, then start again: what is done is not done twice"};
}

Error not_results(const std::string& file) {
  return {Trouble::request, "not_results", fmt::format("{}: this file does not hold results of a batch", file),
          "name another file with --out"};
}

/// As a kill leaves what would begin so.
bool is_cut(std::string_view text, std::string_view whole) {
  return whole.starts_with(text.substr(0, whole.size()));
}

std::string contents_of(const std::string& file) {
  std::ifstream stream(file, std::ios::binary);
  std::ostringstream text;
  text << stream.rdbuf();
  return text.str();
}

using Rows = std::vector<std::vector<std::string>>;

struct Kept {
  Rows rows;
  bool cut = false;  ///< by a kill: the last file's rows are left out
};

Kept rows_kept(std::string text) {
  Kept kept{{}, text.back() != '\n'};
  for (;; kept.cut = true) {
    try {
      kept.rows = rows_of_csv(text);
      break;
    } catch (const Error&) {  // cut within a quoted cell
      text.resize(text.size() < 2 ? 0 : text.find_last_of('\n', text.size() - 2) + 1);
    }
  }
  if (!kept.cut || kept.rows.empty()) return kept;
  const std::string last = kept.rows.back().front();
  while (kept.rows.size() > 1 && kept.rows.back().front() == last) kept.rows.pop_back();
  return kept;
}

std::string text_of(const Rows& rows, std::size_t columns) {
  std::string text;
  for (std::vector<std::string> row : rows) {
    row.resize(columns);
    text += csv_line(row);
  }
  return text;
}

}  // namespace

GrowingResults::GrowingResults(const std::string& name) : name_(name), form_(form_of_growing_name(name)) {
  std::error_code none;
  if (std::filesystem::is_regular_file(name, none) && std::filesystem::file_size(name) > 0)
    form_ == ResultForm::csv ? read_table() : read_lines();
  open_to_append();
  if (form_ != ResultForm::json) return;
  cut_to_end();
  append(end_ == 0 ? "[" : "", end_of_array);
}

GrowingResults::~GrowingResults() {
  if (descriptor_ >= 0) close(descriptor_);
}

bool GrowingResults::holds(const std::string& file) const {
  return files_.contains(form_ == ResultForm::csv ? cell_text(file) : file);
}

/// A document a line. In an array commas part the lines, and the brackets have lines of their own.
void GrowingResults::read_lines() {
  const bool as_array = form_ == ResultForm::json;
  std::ifstream stream(name_, std::ios::binary);
  std::string line;
  std::uintmax_t next = 0;
  while (std::getline(stream, line) && !stream.eof()) {
    const std::uintmax_t begin = std::exchange(next, next + line.size() + 1);
    if (as_array && begin == 0) {
      if (line != "[") throw not_results(name_);
      end_ = 1;
    } else if (!as_array || line != "]") {
      if (as_array && line.ends_with(',')) line.pop_back();
      files_.insert(file_of(line));
      end_ = as_array ? begin + line.size() : next;
    }
  }
  const bool cut_bracket = as_array && line == (next == 0 ? "[" : "]");
  const bool may_be_document = !as_array || next > 0;
  if (!cut_bracket && !(may_be_document && is_cut(line, "{\"file\":"))) throw not_results(name_);
  if (!as_array && std::filesystem::file_size(name_) != end_) std::filesystem::resize_file(name_, end_);
}

/// What a line of results is of. @throws Error if it is something else.
std::string GrowingResults::file_of(const std::string& line) const {
  const auto document = nlohmann::json::parse(line, nullptr, false);
  const bool named = document.is_object() && document.contains(file_column) && document[file_column].is_string();
  return named ? document[file_column].get<std::string>() : throw not_results(name_);
}

void GrowingResults::read_table() {
  const std::string text = contents_of(name_);
  const auto [rows, cut] = rows_kept(text);
  if (cut && rows.size() == 1 && is_cut(text, "file,")) return write_anew("");
  if (rows.empty() || rows.front().front() != file_column) throw not_results(name_);
  columns_ = TableColumns(rows.front());
  for (std::size_t i = 1; i < rows.size(); ++i) {
    if (rows[i].size() != rows.front().size()) throw not_results(name_);
    files_.insert(rows[i].front());
  }
  if (cut) write_anew(text_of(rows, rows.front().size()));
}

void GrowingResults::write_anew(const std::string& text) {
  if (descriptor_ >= 0) close(std::exchange(descriptor_, -1));
  write_output(name_, text, {Overwrite::all, {}});
}

void GrowingResults::open_to_append() {
  descriptor_ = open(name_.c_str(), O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0666);
  if (descriptor_ < 0) throw cannot_write(name_);
}

void GrowingResults::cut_to_end() const {
  if (ftruncate(descriptor_, static_cast<off_t>(end_)) != 0) throw cannot_write(name_);
}

/// In one piece, so that a kill leaves it whole or cut, and not mixed with others'.
void GrowingResults::append(const std::string& text, const std::string& tail) {
  const std::string all = text + tail;
  if (write(descriptor_, all.data(), all.size()) != static_cast<ssize_t>(all.size())) throw cannot_write(name_);
  end_ += text.size();
}

/// The head too, if the table has none. New columns go behind the others, and the table is written anew with them.
std::string GrowingResults::text_of_rows(const std::vector<TableRow>& rows) {
  const std::size_t before = columns_.names().size();
  for (const TableRow& row : rows) columns_.add(row);
  const std::size_t now = columns_.names().size();
  if (before > 0 && now > before) {
    Rows written = rows_of_csv(contents_of(name_));
    written.front() = columns_.names();
    write_anew(text_of(written, now));
    open_to_append();
  }
  std::string text = before == 0 ? columns_.head() : "";
  for (const TableRow& row : rows) text += columns_.line(row);
  return text;
}

void GrowingResults::add(const std::string& file, const std::string& document, const std::vector<TableRow>& rows) {
  if (form_ == ResultForm::csv) {
    append(text_of_rows(rows));
    files_.insert(cell_text(file));
    return;
  }
  if (form_ == ResultForm::jsonl) {
    append(document + "\n");
  } else {
    cut_to_end();
    append((end_ == 1 ? "\n" : ",\n") + document, end_of_array);
  }
  files_.insert(file);
}

void GrowingResults::keep() const {
  if (fsync(descriptor_) != 0) throw cannot_write(name_);
}

}  // namespace counterspot
