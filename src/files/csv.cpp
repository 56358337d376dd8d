#include "files/csv.hpp"

#include <algorithm>

#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

std::string csv_field(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string quoted = "\"";
  for (char c : text) quoted += c == '"' ? std::string("\"\"") : std::string(1, c);
  return quoted + '"';
}

/// Reads the field that starts at `at` and leaves `at` behind it.
std::string read_field(const std::string& text, std::size_t& at) {
  std::string field;
  if (at >= text.size() || text[at] != '"') {
    const std::size_t end = std::min(text.find_first_of(",\r\n", at), text.size());
    field = text.substr(at, end - at);
    at = end;
    return field;
  }
  for (++at; at < text.size(); ++at) {
    if (text[at] != '"') {
      field += text[at];
    } else if (at + 1 < text.size() && text[at + 1] == '"') {
      field += text[at++];
    } else {
      ++at;
      return field;
    }
  }
  throw Error(Trouble::request, "bad_log_line", "a field that opens with a quotation mark does not close",
              "import what 'log export' wrote, unchanged");
}

}  // namespace

std::string csv_line(const std::vector<std::string>& fields) {
  std::string line;
  for (std::size_t i = 0; i < fields.size(); ++i) line += (i == 0 ? "" : ",") + csv_field(fields[i]);
  return line + "\n";
}

std::vector<std::vector<std::string>> rows_of_csv(const std::string& text) {
  std::vector<std::vector<std::string>> rows;
  std::size_t at = 0;
  while (at < text.size()) {
    std::vector<std::string> row = {read_field(text, at)};
    while (at < text.size() && text[at] == ',') row.push_back(read_field(text, ++at));
    if (at < text.size() && text[at] == '\r') ++at;
    if (at < text.size() && text[at] == '\n') ++at;
    rows.push_back(std::move(row));
  }
  return rows;
}

}  // namespace counterspot
