// What a rig file may say of a recording in which several things may be meant.
#include "counterspot/recording/rig_lines.hpp"

#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <set>

#include "counterspot/files/files.hpp"
#include "recording_support.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;
using nlohmann::json;

namespace {

std::filesystem::path array_file(const std::string& name) {
  return source_file("tests/recording/arrays/" + name);
}

/// A rig file as a person writes it from the lines: `line` under [tach], and a rate under [rig].
Rig rig_with_tach(const std::string& line, const std::string& rate = "") {
  return read_rig_text(
      fmt::format("[rig]\nname = \"bay 2\"\nrotation = \"clockwise\"\nviewing_end = \"A\"\n{}\n[tach]\n{}\n"
                  "[[sensor]]\nname = \"A\"\n{}\nsensitivity = \"50 mV/g\"\n",
                  rate, line, line),
      "rig.toml");
}

std::vector<std::string> lines_of(const RecordingInfo& info) {
  std::vector<std::string> lines;
  for (const RigLine& one : rig_lines_to_choose(info)) {
    std::string sections;
    for (const std::string& section : one.sections) sections += " " + section;
    lines.push_back(one.line + " |" + sections + (one.remark.empty() ? "" : " | " + one.remark));
  }
  return lines;
}

RecordingInfo with_channels(const std::vector<std::string>& names) {
  RecordingInfo info;
  for (const std::string& name : names) info.channels.push_back({name, "", name});
  return info;
}

/// Every channel but the times has its line, and a rig that says it means that channel and no other.
void check_lines_mean_channels(const std::filesystem::path& path, const RecordingOptions& options) {
  const RecordingInfo info = open_recording(path, options)->info();
  std::set<std::size_t> meant;
  std::size_t channels = 0;
  for (const RigLine& one : rig_lines_to_choose(info)) {
    if (one.sections.front() == "rig") continue;
    if (!one.remark.empty()) continue;
    CAPTURE(one.line);
    const Rig rig = rig_with_tach(one.line);
    RecordingOptions as_said = recording_options(rig);
    as_said.sample_rate_Hz = options.sample_rate_Hz;
    as_said.format = options.format;
    const RecordingInfo again = open_recording(path, as_said)->info();
    const std::size_t channel = find_channel(again, *rig.tach.channel, "the tach");
    CHECK(find_channel(again, rig.sensors[0].channel, "sensor A") == channel);
    CHECK(again.channels[channel].name == info.channels[channel].name);
    CHECK((!info.time_channel || channel != static_cast<std::size_t>(*info.time_channel)));
    meant.insert(channel);
    ++channels;
  }
  const std::size_t all = info.channels.size() - (info.time_channel ? 1 : 0);
  CHECK(meant.size() == (all < 2 ? 0 : all));
  CHECK(channels == meant.size());
}

}  // namespace

TEST_CASE("a line offered for the rig file means the channel it was offered for") {
  RecordingOptions options;
  options.sample_rate_Hz = 500.0;
  for (const char* name : {"frames.npy", "rows.npy", "fortran.npy", "records.npy", "arrays.npz", "packed.npz",
                           "variables.mat", "packed.mat", "groups.h5", "text.uff", "binary.uff"}) {
    CAPTURE(name);
    check_lines_mean_channels(array_file(name), options);
  }
  const auto tables = source_file("tests/recording/dialects");
  for (const json& one : json::parse(read_file(tables / "cases.json"))) {
    if (one.contains("error") || one.contains("recording")) continue;
    const auto name = one["file"].get<std::string>();
    CAPTURE(name);
    check_lines_mean_channels(tables / name, {});
  }
  check_lines_mean_channels(source_file("tests/broken/recordings/good.wav"), {});
}

TEST_CASE("what a file of several arrays leaves open is offered line by line") {
  CHECK(lines_of(open_recording(array_file("packed.mat"))->info()) ==
        std::vector<std::string>{"channel = \"run.a\" | sensor tach", "channel = \"run.b\" | sensor tach",
                                 "channel = \"edges\" | sensor tach | 10 values; as the tach, times of its edges",
                                 "channel = \"levels\" | sensor tach | 3 values; as the tach, times of its edges"});
  CHECK(lines_of(open_recording(array_file("text.uff"))->info()) ==
        std::vector<std::string>{"channel = \"left\" | sensor tach", "channel = \"2:-Z\" | sensor tach",
                                 "channel = \"tach\" | sensor tach"});
}

TEST_CASE("an array offered as edge times of the tach is read as such") {
  RecordingOptions options = recording_options(rig_with_tach("channel = \"edges\""));
  options.named = {"run.a"};
  CHECK(open_recording(array_file("packed.mat"), options)->info().edge_times_s.size() == 10);
}

TEST_CASE("a rate that the recording does not give is offered as it was stated") {
  RecordingOptions options;
  options.sample_rate_Hz = 51200.0;
  const auto lines = rig_lines_to_choose(open_recording(array_file("frames.npy"), options)->info());
  REQUIRE(lines.size() == 4);
  CHECK(lines[0].line == "sample_rate = \"51200 Hz\"");
  CHECK(lines[0].sections == std::vector<std::string>{"rig"});
  CHECK(lines[3].line == "channel = 3");
  const Rig rig = rig_with_tach(lines[3].line, lines[0].line);
  CHECK(open_recording(array_file("frames.npy"), recording_options(rig))->info().sample_rate_Hz == 51200.0);
}

TEST_CASE("where nothing is to be chosen, nothing is offered") {
  const TemporaryFolder folder;
  CHECK(rig_lines_to_choose(open_recording(write_file(folder / "one.csv", "time,accel\n0,1\n1,2\n2,1\n"))->info())
            .empty());
  CHECK(rig_lines_to_choose(with_channels({"a"})).empty());
}

TEST_CASE("the times of every file of a folder are offered for nothing") {
  const TemporaryFolder folder;
  for (const char* name : {"a.csv", "tach.csv"}) write_file(folder / name, "time,volts (V)\n0,1\n1,2\n2,1\n3,4\n");
  CHECK(lines_of(open_recording(folder.path())->info()) ==
        std::vector<std::string>{"channel = \"a volts\" | sensor tach", "channel = \"tach volts\" | sensor tach"});
}

// The next recording of a logger that numbers its arrays has another number.
TEST_CASE("a name is offered without the number of the recording that all names begin with") {
  CHECK(lines_of(with_channels({"X097_DE_time", "X097_FE_time"})) ==
        std::vector<std::string>{"channel = \"DE_time\" | sensor tach", "channel = \"FE_time\" | sensor tach"});
  CHECK(lines_of(with_channels({"run 3/left", "run 3/tach"})) ==
        std::vector<std::string>{"channel = \"left\" | sensor tach", "channel = \"tach\" | sensor tach"});
  // No number; or a name that would then mean two.
  CHECK(lines_of(with_channels({"accel_left", "accel_right"}))[0] == "channel = \"accel_left\" | sensor tach");
  CHECK(lines_of(with_channels({"X1_end", "X1_DE_end"}))[0] == "channel = \"X1_end\" | sensor tach");
}

TEST_CASE("what would not stand in quotes, or means two channels by its name, is offered by its number") {
  CHECK(lines_of(with_channels({"a", "the \"left\"", "a", "4"})) ==
        std::vector<std::string>{"channel = \"a\" | sensor tach", "channel = 2 | sensor tach",
                                 "channel = 3 | sensor tach", "channel = 4 | sensor tach"});
}
