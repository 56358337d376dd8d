#pragma once

#include <filesystem>

namespace counterspot {

/// How results are written into a file that a person names.
enum class ResultForm {
  csv,    ///< a table
  json,   ///< one document
  jsonl,  ///< a document a line
};

/// What the ending of the name says, in letters of either size. @throws Error(request, "bad_ending").
ResultForm form_of_name(const std::filesystem::path& file);

}  // namespace counterspot
