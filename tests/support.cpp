#include "support.hpp"

#include <stdlib.h>
#include <sys/wait.h>

#include <cstdlib>
#include <fstream>
#include <sstream>
#include <stdexcept>

namespace counterspot::test {

namespace {

std::string shell_quoted(const std::string& text) {
  std::string quoted = "'";
  for (char c : text) quoted += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return quoted + "'";
}

}  // namespace

TemporaryFolder::TemporaryFolder() {
  std::string pattern = (std::filesystem::temp_directory_path() / "counterspot-XXXXXX").string();
  if (mkdtemp(pattern.data()) == nullptr) throw std::runtime_error("no temporary folder");
  path_ = pattern;
}

TemporaryFolder::~TemporaryFolder() {
  std::error_code ignored;
  std::filesystem::remove_all(path_, ignored);
}

Ran run_program(const std::vector<std::string>& arguments, const std::filesystem::path& standard_input,
                const std::filesystem::path& folder) {
  TemporaryFolder streams;
  std::string line = "cd " + shell_quoted(folder.string()) + " && " + shell_quoted(COUNTERSPOT_PROGRAM);
  for (const std::string& argument : arguments) line += " " + shell_quoted(argument);
  line += " < " + shell_quoted(standard_input.string()) + " > " + shell_quoted((streams / "out").string()) + " 2> " +
          shell_quoted((streams / "err").string());
  int status = std::system(line.c_str());
  return {WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status), read_file(streams / "out"),
          read_file(streams / "err")};
}

std::filesystem::path program_path() {
  return COUNTERSPOT_PROGRAM;
}

std::filesystem::path write_file(const std::filesystem::path& path, const std::string& text) {
  std::ofstream(path, std::ios::binary) << text;
  return path;
}

std::string read_file(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

std::filesystem::path source_file(const std::string& name) {
  return std::filesystem::path(COUNTERSPOT_SOURCE_DIR) / name;
}

}  // namespace counterspot::test
