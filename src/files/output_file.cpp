#include "files/output_file.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdio>
#include <fstream>
#include <optional>
#include <string>
#include <system_error>
#include <utility>

#include "counterspot/units/error.hpp"
#include "files/drawn_mark.hpp"

namespace counterspot {

namespace {

namespace fs = std::filesystem;
using Status = struct stat;

std::optional<Status> status_of(const fs::path& file) {
  Status status{};
  return ::stat(file.c_str(), &status) == 0 ? std::optional(status) : std::nullopt;
}

std::optional<Status> status_of_open(int number) {
  Status status{};
  return ::fstat(number, &status) == 0 ? std::optional(status) : std::nullopt;
}

/// Also by another name or link. A terminal that is read and written is no such file.
bool is_same_file(const Status& one, const Status& other) {
  return one.st_dev == other.st_dev && one.st_ino == other.st_ino && !S_ISCHR(one.st_mode);
}

bool is_one_of(const fs::path& file, const std::optional<Status>& status, const std::vector<fs::path>& read) {
  return std::any_of(read.begin(), read.end(), [&](const fs::path& each) {
    const auto other = each == "-" ? status_of_open(STDIN_FILENO) : status_of(each);
    if (status && other) return is_same_file(*status, *other);
    std::error_code ignored;  // not there yet, as what a database writes beside itself
    return !status && !other && !each.empty() && each != "-" &&
           fs::weakly_canonical(each, ignored) == fs::weakly_canonical(file, ignored);
  });
}

/// Its first and its last bytes: the marks stand there.
std::string ends_of(const fs::path& file) {
  constexpr std::streamoff at_each_end = 65536;
  std::ifstream stream(file, std::ios::binary);
  std::string bytes(at_each_end, '\0');
  stream.read(bytes.data(), at_each_end);
  bytes.resize(static_cast<std::size_t>(stream.gcount()));
  stream.clear();
  stream.seekg(-at_each_end, std::ios::end);
  std::string last(at_each_end, '\0');
  stream.read(last.data(), at_each_end);
  return bytes + last.substr(0, static_cast<std::size_t>(stream.gcount()));
}

bool is_own_drawing(const fs::path& file) {
  const std::string bytes = ends_of(file);
  const std::array marks{mark_in_svg_and_html, mark_in_pdf, mark_in_png, mark_in_manual};
  return std::any_of(marks.begin(), marks.end(),
                     [&](std::string_view mark) { return bytes.find(mark) != std::string::npos; });
}

Error file_exists(const fs::path& file) {
  return {Trouble::request, "file_exists", fmt::format("{}: there is such a file already", file.string()),
          "choose another name, or have it written over with --replace"};
}

Error not_written(const fs::path& file, int reason) {
  return {Trouble::machine, "write_failed",
          fmt::format("{}: this file could not be written whole: {}", file.string(),
                      std::generic_category().message(reason)),
          "check the folder and the space on the disk"};
}

fs::path with_links_followed(const fs::path& file) {
  std::error_code trouble;
  fs::path followed = fs::canonical(file, trouble);
  return trouble ? file : followed;
}

/// Renames, if no such file is there. Where the file system cannot do both in one step, as NFS, it looks first.
int rename_to_new(const fs::path& from, const fs::path& to) {
  if (::renameat2(AT_FDCWD, from.c_str(), AT_FDCWD, to.c_str(), RENAME_NOREPLACE) == 0) return 0;
  if (errno != EINVAL && errno != ENOSYS) return errno;
  if (::access(to.c_str(), F_OK) == 0) return EEXIST;
  return ::rename(from.c_str(), to.c_str()) == 0 ? 0 : errno;
}

void keep_folder(const fs::path& file) {
  const fs::path folder = file.has_parent_path() ? file.parent_path() : ".";
  const int number = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (number < 0) return;
  ::fsync(number);  // some file systems cannot; the name is then kept a little later
  ::close(number);
}

}  // namespace

void admit_output(const fs::path& file, const OutputRules& rules) {
  const auto status = status_of(file);
  if (is_one_of(file, status, rules.read)) {
    throw Error(Trouble::request, "output_is_input",
                fmt::format("{}: what is read here would be written over", file.string()), "choose another name");
  }
  std::error_code ignored;
  if (!status && !fs::is_symlink(file, ignored)) return;
  if (status && S_ISDIR(status->st_mode))
    throw Error(Trouble::request, "file_exists", fmt::format("{}: this is a folder", file.string()), "name a file");
  if (status && (!S_ISREG(status->st_mode) || status->st_size == 0)) return;
  if (status && rules.overwrite == Overwrite::all) return;
  if (status && rules.overwrite == Overwrite::drawings && is_own_drawing(file)) return;
  throw file_exists(file);
}

void admit_standard_output(const std::vector<fs::path>& read) {
  const auto status = status_of_open(STDOUT_FILENO);
  if (!status || !S_ISREG(status->st_mode) || !is_one_of("", status, read)) return;
  throw Error(Trouble::request, "output_is_input", "standard output goes to a file that is read here",
              "send it somewhere else");
}

fs::path part_beside(const fs::path& file) {
  std::error_code ignored;
  for (int number = 1;; ++number) {
    fs::path part = file;
    part.replace_filename(fmt::format("{}.part-{}{}", file.stem().string(), number, file.extension().string()));
    if (!fs::exists(fs::symlink_status(part, ignored))) return part;
  }
}

void give_name(const fs::path& part, const fs::path& file, Overwrite overwrite) {
  int trouble = 0;
  if (overwrite == Overwrite::nothing) {
    trouble = rename_to_new(part, file);
  } else if (::rename(part.c_str(), file.c_str()) != 0) {
    trouble = errno;
  }
  if (trouble == EEXIST) throw file_exists(file);
  if (trouble != 0) throw not_written(file, trouble);
  keep_folder(file);
}

OutputFile::OutputFile(const fs::path& file, const OutputRules& rules) : file_(with_links_followed(file)) {
  admit_output(file, rules);
  const auto status = status_of(file_);
  was_there_ = status.has_value();
  if (status && !S_ISREG(status->st_mode)) {
    descriptor_ = ::open(file_.c_str(), O_WRONLY | O_CLOEXEC);
  } else {
    do {  // another program may take the same name
      part_ = part_beside(file_);
      descriptor_ = ::open(part_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, rules.for_owner_alone ? 0600 : 0666);
    } while (descriptor_ < 0 && errno == EEXIST);
  }
  if (descriptor_ < 0) throw not_written(file_, errno);
  // Who may read it stays. A file system without rights has none to keep.
  if (status && !part_.empty() && !rules.for_owner_alone) static_cast<void>(::fchmod(descriptor_, status->st_mode));
}

OutputFile::~OutputFile() {
  if (descriptor_ >= 0) ::close(descriptor_);
  if (!part_.empty()) ::unlink(part_.c_str());
}

void OutputFile::write(std::string_view bytes) {
  while (!bytes.empty()) {
    const ssize_t put = ::write(descriptor_, bytes.data(), bytes.size());
    if (put < 0 && errno == EINTR) continue;
    if (put <= 0) throw not_written(file_, put < 0 ? errno : ENOSPC);
    bytes.remove_prefix(static_cast<std::size_t>(put));
  }
}

void OutputFile::keep() {
  const bool on_disk = part_.empty() || ::fsync(descriptor_) == 0;
  const bool closed = ::close(std::exchange(descriptor_, -1)) == 0;
  if (!on_disk || !closed) throw not_written(file_, errno);
  if (part_.empty()) return;
  give_name(part_, file_, was_there_ ? Overwrite::all : Overwrite::nothing);
  part_.clear();
}

void write_output(const fs::path& file, std::string_view bytes, const OutputRules& rules) {
  OutputFile output(file, rules);
  output.write(bytes);
  output.keep();
}

}  // namespace counterspot
