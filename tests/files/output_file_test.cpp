#include "files/output_file.hpp"

#include <sys/stat.h>

#include <catch2/catch.hpp>
#include <functional>

#include "counterspot/drawing/drawing.hpp"
#include "counterspot/units/error.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;
namespace fs = std::filesystem;

namespace {

std::string code_of(const std::function<void()>& work) {
  try {
    work();
    return "";
  } catch (const Error& error) {
    CHECK_FALSE(std::string(error.what()).empty());
    CHECK_FALSE(error.remedy().empty());
    return error.code();
  }
}

std::size_t files_in(const TemporaryFolder& folder) {
  return static_cast<std::size_t>(std::distance(fs::directory_iterator(folder.path()), fs::directory_iterator()));
}

std::string drawn(PictureFormat format, const std::string& title) {
  Picture picture;
  picture.title = title;
  picture.width_mm = picture.height_mm = 20.0;
  DrawingOptions options;
  options.format = format;
  return draw(picture, options);
}

}  // namespace

TEST_CASE("what is there is written over only if that was asked for") {
  const TemporaryFolder folder;
  const fs::path file = write_file(folder / "jobs.jsonl", "old");
  for (const Overwrite unasked : {Overwrite::nothing, Overwrite::drawings})
    CHECK(code_of([&] { write_output(file, "new", {unasked, {}}); }) == "file_exists");
  CHECK(read_file(file) == "old");
  write_output(file, "new", {Overwrite::all, {}});
  CHECK(read_file(file) == "new");
  write_output(folder / "fresh", "new", {});
  CHECK(read_file(folder / "fresh") == "new");
  write_output(write_file(folder / "from-mktemp", ""), "new", {});
  CHECK(read_file(folder / "from-mktemp") == "new");
  CHECK(code_of([&] { write_output(folder.path(), "new", {Overwrite::all, {}}); }) == "file_exists");
  CHECK(files_in(folder) == 3);  // and nothing beside them
}

TEST_CASE("what is read is never written over, whatever it is called and whatever was asked") {
  const TemporaryFolder folder;
  const fs::path log = write_file(folder / "log.db", "all jobs");
  fs::create_symlink(log, folder / "link");
  fs::create_hard_link(log, folder / "hard-link");
  fs::create_directory_symlink(folder.path(), folder / "other-way");
  const OutputRules rules{Overwrite::all, {folder / "rig.toml", log, log.string() + "-wal"}};
  for (const char* name : {"log.db", "link", "hard-link", "other-way/log.db", "log.db-wal", "other-way/log.db-wal"}) {
    CAPTURE(name);
    CHECK(code_of([&] { write_output(folder / name, "new", rules); }) == "output_is_input");
  }
  CHECK(read_file(log) == "all jobs");
  write_output(folder / "jobs.jsonl", "new", rules);
  CHECK(read_file(folder / "jobs.jsonl") == "new");
}

TEST_CASE("one drawing of the program's own replaces another, and nothing that others drew") {
  const TemporaryFolder folder;
  const OutputRules rules{Overwrite::drawings, {}};
  for (const auto& [format, name] :
       {std::pair{PictureFormat::svg, "a.svg"}, {PictureFormat::png, "a.png"}, {PictureFormat::pdf, "a.pdf"}}) {
    CAPTURE(name);
    const std::string one = drawn(format, "one");
    const std::string other = drawn(format, "another, longer title");
    for (const std::string& bytes : {one, other}) write_output(folder / name, bytes, rules);
    CHECK(read_file(folder / name) == other);
  }
  // The first bytes of each kind, as any program writes them.
  for (const auto& [name, bytes] : {std::pair<std::string, std::string>{"photograph.png", "\x89PNG\r\n\x1a\n"},
                                    {"customer.pdf", "%PDF-1.5\n/Creator (a word processor)"},
                                    {"customer.svg", "<?xml version=\"1.0\"?>\n<svg/>"},
                                    {"shaft.toml", "# balanced with Counterspot"}}) {
    CAPTURE(name);
    const fs::path file = write_file(folder / name, bytes);
    CHECK(code_of([&] { write_output(file, "new", rules); }) == "file_exists");
    CHECK(read_file(file) == bytes);
  }
}

TEST_CASE("until a file is whole, what it replaces is as it was") {
  const TemporaryFolder folder;
  const fs::path file = write_file(folder / "jobs.jsonl", "old");
  {
    OutputFile output(file, {Overwrite::all, {}});
    output.write("half of the n");
    CHECK(read_file(file) == "old");
  }  // given up
  CHECK(read_file(file) == "old");
  CHECK(files_in(folder) == 1);
  {
    OutputFile output(folder / "fresh", {});
    output.write("all of it");
    CHECK_FALSE(fs::exists(folder / "fresh"));
    write_file(folder / "fresh", "of another program");
    CHECK(code_of([&] { output.keep(); }) == "file_exists");
  }
  CHECK(read_file(folder / "fresh") == "of another program");
  CHECK(files_in(folder) == 2);
}

TEST_CASE("a file that is written over keeps its links and its rights") {
  const TemporaryFolder folder;
  const fs::path file = write_file(folder / "rig.toml", "old");
  fs::permissions(file, fs::perms::owner_read | fs::perms::owner_write | fs::perms::group_read);
  fs::create_symlink(file, folder / "link");
  write_output(folder / "link", "new", {Overwrite::all, {}});
  CHECK(fs::is_symlink(folder / "link"));
  CHECK(read_file(file) == "new");
  CHECK(fs::status(file).permissions() == (fs::perms::owner_read | fs::perms::owner_write | fs::perms::group_read));
}

TEST_CASE("a device is written as it is, and a full one is said") {
  write_output("/dev/null", "new", {});
  CHECK(fs::is_character_file("/dev/null"));
  CHECK(code_of([] { write_output("/dev/full", "new", {}); }) == "write_failed");
  CHECK(code_of([] { write_output("/no/such/folder/jobs.jsonl", "new", {}); }) == "write_failed");
}
