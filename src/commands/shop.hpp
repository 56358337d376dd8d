#pragma once

#include <CLI/CLI.hpp>
#include <filesystem>
#include <string>
#include <vector>

#include "counterspot/drawing/words.hpp"
#include "counterspot/files/shop.hpp"

namespace counterspot::commands {

/// Gives options of the command that is asked for what the environment and the shop's files state, unless they are
/// typed, and says on standard error which files come from there. @throws Error(request, …) for a shop file that is
/// wrong, and for a rig or stock in it that is not there.
void fill_from_shop(CLI::App& program, const std::vector<std::string>& typed);

/// What the environment or the shop's files state for a key; empty if nothing. @throws Error(request, …) as above.
std::string shop_value(const std::string& key);

/// Where the defaults of a rig's shop are kept: in the file that states the rig, else in that of the folder or of the
/// nearest above it, else beside the rig's file.
std::filesystem::path shop_file_of(const std::string& rig);

/// The language of help and refusals: that of `--language`, else that of the shop's defaults, else that of the locale.
const Words& words_here(const std::vector<std::string>& typed);

/// All that is stated. @throws Error(request, …) for a shop file that is wrong.
std::vector<ShopValue> shop_values();

/// Where things stand, and what is next, in a few lines: what `counterspot` alone says.
std::string standing_text(const Words& words);

}  // namespace counterspot::commands
