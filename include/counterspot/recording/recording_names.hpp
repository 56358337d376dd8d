#pragma once

#include <filesystem>

namespace counterspot {

/// Whether a file is called like a recording: a sound file, a table (.csv) or a file of arrays, in letters of either
/// size. For looking through folders, where notes lie among the recordings; a file that is named is taken by its
/// content.
bool is_called_recording(const std::filesystem::path& file);

}  // namespace counterspot
