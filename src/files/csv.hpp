#pragma once

#include <string>
#include <vector>

namespace counterspot {

/// One row as RFC 4180 wants it: a field with a comma, a quotation mark or a line end stands in quotation marks. Ends
/// with a line feed alone.
std::string csv_line(const std::vector<std::string>& fields);

/// @throws Error(request, "bad_log_line") if a quoted field does not end.
std::vector<std::vector<std::string>> rows_of_csv(const std::string& text);

}  // namespace counterspot
