// Nothing that was recorded is lost to a name typed twice.
#include <sndfile.h>

#include <catch2/catch.hpp>
#include <filesystem>

#include "support.hpp"

using namespace counterspot::test;
namespace fs = std::filesystem;

namespace {

/// The demo's files, and a log with one spin.
struct Shop {
  TemporaryFolder folder;

  Shop() {
    for (const char* name : {"rig.toml", "shaft.toml", "spins.toml", "stock.toml", "00-as-found.flac",
                             "01-trial-a.flac", "02-trial-b.flac"}) {
      if (fs::exists(source_file(std::string("data/") + name)))
        fs::copy_file(source_file(std::string("data/") + name), folder / name);
    }
    REQUIRE(run({"job", "open", "shaft.toml", "--rig", "rig.toml", "--log", "log.db"}).exit_code == 0);
    REQUIRE(run({"job", "spin", "00-as-found.flac", "--log", "log.db"}).exit_code == 0);
  }
  Ran run(const std::vector<std::string>& arguments, const fs::path& input = "/dev/null") const {
    return run_program(arguments, input, folder.path());
  }
  std::string content(const std::string& name) const { return read_file(folder / name); }
};

void refused(const Ran& ran, const std::string& words) {
  CAPTURE(ran.out, ran.err);
  CHECK(ran.exit_code == 2);
  CHECK(ran.out.empty());
  CHECK(ran.err.find(words) != std::string::npos);
  CHECK(ran.err.find("\n mend: ") != std::string::npos);
}

}  // namespace

TEST_CASE("an export never goes into the log that it is read from") {
  const Shop shop;
  const std::string log = shop.content("log.db");
  REQUIRE(log.size() > 4096);
  fs::create_symlink("log.db", shop.folder / "link");
  fs::create_hard_link(shop.folder / "log.db", shop.folder / "hard-link");
  for (const char* name : {"log.db", "./log.db", "link", "hard-link", "log.db-wal"}) {
    CAPTURE(name);
    refused(shop.run({"log", "export", "--log", "log.db", "--out", name}), "would be written over");
    refused(shop.run({"log", "export", "--log", "log.db", "--out", name, "--replace"}), "would be written over");
  }
  refused(shop.run({"sheet", "MC-0417/1", "--log", "log.db", "--out", "log.db"}), "");
  CHECK(shop.run({"log", "backup", "log.db-wal", "--log", "log.db"}).exit_code == 2);
  CHECK(shop.run({"log", "backup", "log.db", "--log", "log.db"}).exit_code == 2);
  CHECK(shop.run({"log", "check", "--log", "log.db"}).exit_code == 0);
  CHECK(shop.content("log.db") == log);
  // Appended by the shell, too.
  const std::string line = "cd '" + shop.folder.path().string() + "' && '" + program_path().string() +
                           "' log export --log log.db >> log.db 2> said";
  CHECK(std::system(line.c_str()) != 0);  // NOLINT(cert-env33-c)
  CHECK(shop.content("said").find("standard output") != std::string::npos);
  CHECK(shop.content("log.db") == log);
}

TEST_CASE("an export does not write over what is there unless it was told to") {
  const Shop shop;
  write_file(shop.folder / "jobs.jsonl", "last year's jobs");
  refused(shop.run({"log", "export", "--log", "log.db", "--out", "jobs.jsonl"}), "there is such a file already");
  CHECK(shop.content("jobs.jsonl") == "last year's jobs");
  CHECK(shop.run({"log", "export", "--log", "log.db", "--out", "jobs.jsonl", "--replace"}).exit_code == 0);
  CHECK(shop.content("jobs.jsonl") == shop.run({"log", "export", "--log", "log.db"}).out);
}

TEST_CASE("a recording and its notes are not written over by another") {
  const Shop shop;
  const std::string spin = shop.content("00-as-found.flac");
  const std::vector<std::string> again = {"record", "play:01-trial-a.flac", "00-as-found.flac", "--seconds", "0.3 s"};
  refused(shop.run(again), "there is such a file already");
  write_file(shop.folder / "new.flac.json", "notes of a spin");
  refused(shop.run({"record", "play:01-trial-a.flac", "new.flac", "--seconds", "0.3 s"}), "new.flac.json");
  CHECK_FALSE(fs::exists(shop.folder / "new.flac"));
  fs::create_symlink("00-as-found.flac", shop.folder / "link.flac");
  for (const std::string source : {"play:00-as-found.flac", "00-as-found.flac", "raw:00-as-found.flac", "-"}) {
    for (const char* name : {"00-as-found.flac", "link.flac"}) {
      CAPTURE(source, name);
      const fs::path input = source == "-" ? shop.folder / "00-as-found.flac" : fs::path("/dev/null");
      refused(shop.run({"record", source, name, "--replace"}, input), "would be written over");
    }
  }
  CHECK(shop.content("00-as-found.flac") == spin);

  std::vector<std::string> told = again;
  told.emplace_back("--replace");
  const Ran ran = shop.run(told);
  CAPTURE(ran.err);
  CHECK(ran.exit_code == 0);
  CHECK(shop.content("00-as-found.flac") != spin);
  CHECK(shop.run({"inspect", "00-as-found.flac"}).exit_code == 0);
  CHECK(fs::exists(shop.folder / "00-as-found.flac.json"));
  CHECK_FALSE(fs::exists(shop.folder / "00-as-found.part-1.flac"));
}

TEST_CASE("a recording that cannot be made leaves the one that it was to replace") {
  const Shop shop;
  const std::string spin = shop.content("00-as-found.flac");
  write_file(shop.folder / "empty.raw", "");
  const Ran none = shop.run({"record", "raw:empty.raw", "00-as-found.flac", "--replace"});
  CHECK(none.exit_code == 3);
  CHECK(none.err.find("no samples came") != std::string::npos);
  CHECK(shop.run({"record", "raw:empty.raw", "new.flac"}).exit_code == 3);
  CHECK_FALSE(fs::exists(shop.folder / "new.flac"));
  CHECK(shop.content("00-as-found.flac") == spin);
}

TEST_CASE("pictures and sheets are drawn again over themselves, and over nothing else") {
  const Shop shop;
  for (int turn = 0; turn < 2; ++turn) {
    CHECK(shop.run({"solve", "spins.toml", "--picture", "fit.png"}).exit_code == 1);
    CHECK(shop.run({"sheet", "MC-0417/1", "--log", "log.db"}).exit_code == 0);
    CHECK(shop.run({"sheet", "MC-0417/1", "--log", "log.db", "--out", "sheet.html"}).exit_code == 0);
    CHECK(shop.run({"manual", "--folder", "."}).exit_code == 0);
  }
  write_file(shop.folder / "drawing-of-the-shaft.pdf", "%PDF-1.7 by the customer");
  refused(shop.run({"sheet", "MC-0417/1", "--log", "log.db", "--out", "drawing-of-the-shaft.pdf"}),
          "there is such a file already");
  refused(shop.run({"solve", "spins.toml", "--picture", "drawing-of-the-shaft.pdf"}), "there is such a file already");
  CHECK(shop.content("drawing-of-the-shaft.pdf") == "%PDF-1.7 by the customer");
  fs::copy_file(shop.folder / "00-as-found.flac", shop.folder / "spin.png");  // told by its content, not by its name
  refused(shop.run({"inspect", "spin.png", "--picture", "spin.png", "--replace"}), "would be written over");
  CHECK(shop.content("spin.png") == shop.content("00-as-found.flac"));
}

TEST_CASE("a batch goes on with its own results alone") {
  const Shop shop;
  for (const std::string content : {"one line that does not end", "a note\nanother", "\x7f", "\"", "[1,\n2]\n", "\n"}) {
    for (const std::string name : {"precious", "precious.csv", "precious.json", "precious.jsonl"}) {
      CAPTURE(content, name);
      write_file(shop.folder / name, content);
      const Ran ran = shop.run({"batch", "track", ".", "--rig", "rig.toml", "--out", name});
      CHECK(ran.exit_code == 2);
      CHECK(shop.content(name) == content);
    }
  }
  const std::string rig = shop.content("rig.toml");
  CHECK(shop.run({"batch", "track", ".", "--rig", "rig.toml", "--out", "rig.toml"}).exit_code == 2);
  CHECK(shop.content("rig.toml") == rig);
}

TEST_CASE("a recording under two spins is refused before any number, and both are named") {
  const Shop shop;
  fs::copy_file(shop.folder / "02-trial-b.flac", shop.folder / "03-verify.flac");  // the wrong file
  const std::string spins = shop.content("spins.toml");
  const std::string verify =
      "[[spin]]\nlabel = \"verify\"\nrecording = \"03-verify.flac\"\n"
      "fitted = [ { plane = \"A\", mass = \"36 g\", angle = \"267 deg\" } ]\n";
  write_file(shop.folder / "spins.toml", spins + verify);
  for (const std::vector<std::string>& command : {std::vector<std::string>{"solve", "spins.toml"},
                                                  {"solve", "spins.toml", "--json"},
                                                  {"solve", "spins.toml", "--no-phase"},
                                                  {"place", "spins.toml", "--stock", "stock.toml"}}) {
    CAPTURE(command);
    const Ran ran = shop.run(command);
    CAPTURE(ran.err);
    CHECK(ran.exit_code == 3);
    CHECK(ran.out.empty());
    CHECK(ran.err.find("'trial at B' and 'verify' are the same recording") != std::string::npos);
    CHECK(ran.err.find("other weights") != std::string::npos);
  }
  // The same weights: no second spin either.
  write_file(shop.folder / "spins.toml", spins +
                                             "[[spin]]\nlabel = \"again\"\nrecording = \"03-verify.flac\"\n"
                                             "fitted = [ { plane = \"B\", mass = \"15 g\", angle = \"0 deg\" } ]\n");
  const Ran ran = shop.run({"solve", "spins.toml"});
  CHECK(ran.exit_code == 3);
  CHECK(ran.err.find("'trial at B' and 'again' are the same recording, byte for byte: it counts once") !=
        std::string::npos);
}
