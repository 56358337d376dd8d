#pragma once

#include <filesystem>
#include <string_view>
#include <vector>

namespace counterspot {

/// What may be written over.
enum class Overwrite {
  nothing,   ///< what is there stays: recordings, logs and exports may be the only record of what was measured
  drawings,  ///< only what this program drew from such records, for it can draw it again
  all,       ///< the person asked for it
};

struct OutputRules {
  Overwrite overwrite = Overwrite::nothing;
  std::vector<std::filesystem::path> read;  ///< by the same command; never written over. "-" is standard input
  bool for_owner_alone = false;             ///< nobody else may read it; else as the system gives, or as it was
};

/// May this file be written? An empty file holds nothing that could be lost, so it may be; a device or a pipe too.
/// @throws Error(request, …) "output_is_input", "file_exists".
void admit_output(const std::filesystem::path& file, const OutputRules& rules);

/// The same of standard output where it was sent to a file. @throws Error(request, "output_is_input").
void admit_standard_output(const std::vector<std::filesystem::path>& read);

/// A name beside the file that is not taken, with the same ending: "spin.part-1.w64".
std::filesystem::path part_beside(const std::filesystem::path& file);

/// Gives what is complete its name. @throws Error(request, "file_exists") if it must not be written over, and somebody
/// else has made such a file meanwhile; Error(machine, "write_failed").
void give_name(const std::filesystem::path& part, const std::filesystem::path& file, Overwrite overwrite);

/// A file that is there complete, or not at all: the bytes go to a part beside it, which gets the file's name once they
/// are all on the disk. Until then, and if that fails, a file that is to be written over is as it was. Devices and
/// pipes are written as they are.
class OutputFile {
 public:
  /// @throws as admit_output; Error(machine, "write_failed").
  OutputFile(const std::filesystem::path& file, const OutputRules& rules);
  ~OutputFile();
  OutputFile(const OutputFile&) = delete;
  OutputFile& operator=(const OutputFile&) = delete;
  OutputFile(OutputFile&&) = delete;
  OutputFile& operator=(OutputFile&&) = delete;

  /// @throws Error(machine, "write_failed").
  void write(std::string_view bytes);
  /// The file is whole and on the disk when this returns. @throws as `write` and `give_name`.
  void keep();

 private:
  std::filesystem::path file_;  ///< with symbolic links followed
  std::filesystem::path part_;  ///< empty: a device or a pipe
  bool was_there_ = false;
  int descriptor_ = -1;
};

/// All of it at once.
void write_output(const std::filesystem::path& file, std::string_view bytes, const OutputRules& rules);

}  // namespace counterspot
