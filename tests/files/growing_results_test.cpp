#include "files/growing_results.hpp"

#include <fmt/format.h>

#include <catch2/catch.hpp>

#include "counterspot/units/error.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

void add(GrowingResults& results, const std::string& file, double speed_rpm, const std::string& note = "") {
  TableRow row;
  row.text("file", file);
  row.number("speed (rpm)", speed_rpm);
  if (!note.empty()) row.text("note", note);
  results.add(file, fmt::format(R"({{"file":"{}","speed_rpm":{}}})", file, speed_rpm), {row});
}

/// Two results, the second by another run.
std::string grown(const std::filesystem::path& file) {
  {
    GrowingResults first(file);
    add(first, "a.wav", 900.0);
  }
  GrowingResults second(file);
  CHECK(second.holds("a.wav"));
  CHECK_FALSE(second.holds("b.wav"));
  add(second, "b.wav", 1000.0);
  CHECK(second.holds("b.wav"));
  second.keep();
  return read_file(file);
}

}  // namespace

TEST_CASE("results that grow are whole after each, in every form") {
  const TemporaryFolder folder;
  CHECK(grown(folder / "r.jsonl") ==
        "{\"file\":\"a.wav\",\"speed_rpm\":900}\n{\"file\":\"b.wav\",\"speed_rpm\":1000}\n");
  CHECK(grown(folder / "r.json") ==
        "[\n{\"file\":\"a.wav\",\"speed_rpm\":900},\n{\"file\":\"b.wav\",\"speed_rpm\":1000}\n]\n");
  CHECK(grown(folder / "r.csv") == "file,speed (rpm)\na.wav,900\nb.wav,1000\n");
}

// Of a table all rows of the last file go, for there may have been more of them.
TEST_CASE("of results that were cut off anywhere, what is whole stays and the rest is done again") {
  for (const char* ending : {"jsonl", "json", "csv"}) {
    const TemporaryFolder folder;
    const auto file = folder / (std::string("r.") + ending);
    const std::string whole = grown(file);
    for (std::size_t length = 0; length < whole.size(); ++length) {
      CAPTURE(ending, length);
      write_file(file, whole.substr(0, length));
      GrowingResults results(file);
      for (const auto& [name, speed_rpm] : {std::pair("a.wav", 900.0), std::pair("b.wav", 1000.0)})
        if (!results.holds(name)) add(results, name, speed_rpm);
      CHECK(read_file(file) == whole);
    }
  }
}

TEST_CASE("a column that comes later stands behind the others, and is empty above") {
  const TemporaryFolder folder;
  const auto file = folder / "r.csv";
  GrowingResults results(file);
  add(results, "a.wav", 900.0);
  add(results, "b.wav", 1000.0, "loose, as it seems");
  CHECK(read_file(file) == "file,speed (rpm),note\na.wav,900,\nb.wav,1000,\"loose, as it seems\"\n");
}

TEST_CASE("results do not grow in a file that holds something else, nor in a form that cannot grow") {
  const TemporaryFolder folder;
  const auto refusal = [&](const std::string& name, const std::string& text) {
    write_file(folder / name, text);
    try {
      GrowingResults results(folder / name);
    } catch (const Error& error) {
      return error.code();
    }
    return std::string("not refused");
  };
  CHECK(refusal("r.csv", "speed,file\n900,a.wav\n") == "not_results");
  CHECK(refusal("r.jsonl", "{\"speed_rpm\":900}\n") == "not_results");
  CHECK(refusal("r.json", "{\"file\":\"a.wav\"}\n") == "not_results");
  CHECK(refusal("r.npz", "") == "bad_ending");
  CHECK(read_file(folder / "r.csv") == "speed,file\n900,a.wav\n");
}
