// What a log exported, in whichever of its three forms.

#include <sstream>

#include "counterspot/log/log.hpp"

namespace counterspot {

namespace {

constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF";

void read_line(const std::string& line, Exported& exported) {
  if (auto record = rig_record_of_json_line(line)) {
    exported.rig_records.push_back(std::move(*record));
  } else {
    exported.jobs.push_back(job_of_json_line(line));
  }
}

bool is_blank(const std::string& line) {
  return line.find_first_not_of(" \t\r") == std::string::npos;
}

}  // namespace

Exported exported_in(std::string text) {
  if (text.starts_with(byte_order_mark)) text.erase(0, byte_order_mark.size());
  if (is_log_table(text.substr(0, text.find('\n')))) return {jobs_of_csv(text), rig_records_of_csv(text)};
  Exported exported;
  if (text.starts_with('[')) {
    for (const std::string& line : lines_of_log_document(text)) read_line(line, exported);
    return exported;
  }
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);)
    if (!is_blank(line)) read_line(line, exported);
  return exported;
}

}  // namespace counterspot
