#pragma once

#include <filesystem>

namespace counterspot {

/// How results are written into a file that a person names.
enum class ResultForm {
  csv,    ///< a table
  json,   ///< one document
  jsonl,  ///< a document per line
  npz,    ///< the columns of the table as NumPy arrays
  mat,    ///< and as variables of a MATLAB file
  uff,    ///< vectors over speed as datasets 58 of a universal file
};

/// What the ending of the name says, in letters of either size. @throws Error(request, "bad_ending").
ResultForm form_of_name(const std::filesystem::path& file);

/// The same of a file that is written piece by piece: a table, one document or lines. @throws Error(request,
/// "bad_ending").
ResultForm form_of_growing_name(const std::filesystem::path& file);

}  // namespace counterspot
