#pragma once

#include <filesystem>
#include <vector>

namespace counterspot {

/// Whether a file is called like a recording: a sound file, a table (.csv) or a file of arrays, in letters of either
/// size. For looking through folders, where notes lie among the recordings; a file that is named is taken by its
/// content.
bool is_called_recording(const std::filesystem::path& file);

/// The files that are called so in a folder, by their names; not those of folders in it. Empty if there are none, or it
/// cannot be read.
std::vector<std::filesystem::path> recordings_in(const std::filesystem::path& folder);

}  // namespace counterspot
