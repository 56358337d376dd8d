#pragma once

#include <filesystem>
#include <string>
#include <vector>

namespace counterspot {

/// What a shop states once, so that no command is told it again: shop.toml.
struct ShopValue {
  std::string key;             ///< "rig"
  std::string value;           ///< as an option takes it; a path is absolute
  std::filesystem::path from;  ///< the file it stands in
  int line = 0;
};

/// In the order of the table of keys. @throws Error(request, …) as read_rig.
std::vector<ShopValue> read_shop(const std::filesystem::path& file);
std::vector<ShopValue> read_shop_text(const std::string& text, const std::filesystem::path& file);

/// shop.toml of a folder, or of the nearest one above it; empty if there is none.
std::filesystem::path shop_file_at(const std::filesystem::path& folder);

/// Of two files: a key that the nearer one states goes before the other's.
std::vector<ShopValue> nearer_first(std::vector<ShopValue> near, const std::vector<ShopValue>& far);

/// The text with one key stated anew, everything else as it was. @param value as typed; a path as it is to stand there.
std::string with_shop_value(const std::string& text, const std::string& key, const std::string& value);

/// What stands in a shop file; of one that is not there, what a new one begins with.
std::string shop_text_at(const std::filesystem::path& file);
/// States one key anew in a shop file, which is made if it is not there. @throws Error(request, …) for a file that is
/// wrong, and as write_output.
void state_in_shop(const std::filesystem::path& file, const std::string& key, const std::string& value);

/// Whether a key names a file or a folder. A log by URL is none.
bool is_shop_path(const std::string& key, const std::string& value);

/// The id of the shaft whose file in a folder was written last; empty if there is none.
std::string newest_shaft_in(const std::filesystem::path& folder);

/// A shaft's file by its path, or by the shaft's id in a folder of shaft files (empty: none is known).
/// @throws Error(request, …) "no_such_shaft"; "which_shaft" if several files have this id.
std::filesystem::path shaft_file_named(const std::string& named, const std::filesystem::path& folder);

}  // namespace counterspot
