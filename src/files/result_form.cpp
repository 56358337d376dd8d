#include "files/result_form.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "counterspot/units/error.hpp"

namespace counterspot {

ResultForm form_of_name(const std::filesystem::path& file) {
  std::string ending = file.extension().string();
  std::transform(ending.begin(), ending.end(), ending.begin(), [](unsigned char c) { return std::tolower(c); });
  if (ending == ".csv") return ResultForm::csv;
  if (ending == ".json") return ResultForm::json;
  if (ending == ".jsonl") return ResultForm::jsonl;
  throw Error(Trouble::request, "bad_ending",
              fmt::format("{}: the name's ending says how results are written, and {}", file.string(),
                          ending.empty() ? "this name has none" : fmt::format("'{}' is none of them", ending)),
              "end the name with .csv (a table), .json (one document) or .jsonl (a document a line)");
}

}  // namespace counterspot
