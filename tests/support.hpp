#pragma once

#include <filesystem>
#include <string>
#include <vector>

namespace counterspot::test {

/// What the real program did.
struct Ran {
  int exit_code = -1;
  std::string out;
  std::string err;
};

/// Runs the built `counterspot` with these arguments, standard input from a file (default: empty), in a working folder.
Ran run_program(const std::vector<std::string>& arguments, const std::filesystem::path& standard_input = "/dev/null",
                const std::filesystem::path& folder = ".");

/// Where the built program is, for tests that start it in their own way.
std::filesystem::path program_path();

/// A folder that is removed with its contents at the end of the test.
class TemporaryFolder {
 public:
  TemporaryFolder();
  ~TemporaryFolder();
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  std::filesystem::path operator/(const std::string& name) const { return path_ / name; }
  const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

/// Writes a text file and gives its path.
std::filesystem::path write_file(const std::filesystem::path& path, const std::string& text);
std::string read_file(const std::filesystem::path& path);

/// A file of the source tree, such as source_file("data/rig.toml").
std::filesystem::path source_file(const std::string& name);

}  // namespace counterspot::test
