// What a command line says of a recording counts as if the rig file said it.
#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "support.hpp"

using namespace counterspot::test;
using nlohmann::json;
namespace fs = std::filesystem;

namespace {

constexpr double full_turn_rad = 6.283185307179586;
constexpr double rate_Hz = 1000.0;

/// 8 s at 25 turns a second: tach, two sensors, and one that nobody asks for; with times in front or without any.
std::string spin_csv(bool with_times, double at_a = 4.0, double at_b = 1.0) {
  std::string csv = std::string(with_times ? "time (s)," : "") + "pulse (V),rear (m/s2),front (m/s2),spare (m/s2)\n";
  for (int n = 0; n < 8000; ++n) {
    const double turns = 0.4 + 25.0 * n / rate_Hz;
    const double place = turns - std::floor(turns);
    if (with_times) csv += std::to_string(n / rate_Hz) + ",";
    csv += std::string(place < 0.2 ? "5" : "0") + "," + std::to_string(at_b * std::cos(full_turn_rad * turns - 2.0)) +
           "," + std::to_string(at_a * std::cos(full_turn_rad * turns - 0.5)) + ",0.1\n";
  }
  return csv;
}

std::string rig_toml(const std::string& a, const std::string& b, const std::string& tach,
                     const std::string& more = "") {
  return "[rig]\nname = \"bay 2\"\nrotation = \"counter-clockwise\"\nviewing_end = \"A\"\n" + more +
         "[tach]\nchannel = " + tach + "\n[[sensor]]\nname = \"A\"\nchannel = " + a +
         "\nsensitivity = \"100 mV/g\"\n[[sensor]]\nname = \"B\"\nchannel = " + b +
         "\nsensitivity = \"100 mV/g\"\n[qualification]\nsmallest_residual = \"80 g·mm\"\n";
}

/// `right.toml` says all of it, `wrong.toml` has other channels and no rate.
struct Bay {
  TemporaryFolder folder;
  Bay() {
    write_file(folder / "right.toml", rig_toml("3", "2", "1", "sample_rate = \"1 kHz\"\n"));
    write_file(folder / "wrong.toml", rig_toml("\"accel_a\"", "\"accel_b\"", "\"tacho\""));
    write_file(folder / "spin.csv", spin_csv(false));
    write_file(folder / "timed.csv", spin_csv(true));
    write_file(folder / "shaft.toml", read_file(source_file("data/shaft.toml")));
    for (const std::string rig : {"right", "wrong"}) {
      fs::create_directories(folder / rig);
      write_file(folder / (rig + "/spins.toml"), "rig = \"../" + rig +
                                                     ".toml\"\nshaft = \"../shaft.toml\"\n"
                                                     "[[spin]]\nlabel = \"as found\"\nrecording = \"../0.csv\"\n"
                                                     "[[spin]]\nlabel = \"A\"\nrecording = \"../1.csv\"\nfitted = "
                                                     "[{plane=\"A\",mass=\"15 g\",angle=\"0 deg\"}]\n"
                                                     "[[spin]]\nlabel = \"B\"\nrecording = \"../2.csv\"\nfitted = "
                                                     "[{plane=\"B\",mass=\"15 g\",angle=\"0 deg\"}]\n");
    }
    write_file(folder / "0.csv", spin_csv(false, 4.0, 1.0));
    write_file(folder / "1.csv", spin_csv(false, 5.0, 1.1));
    write_file(folder / "2.csv", spin_csv(false, 4.1, 2.0));
  }
  Ran run(const std::vector<std::string>& arguments) const {
    return run_program(arguments, "/dev/null", folder.path());
  }
  /// With the wrong rig file and the right words for it.
  Ran stated(std::vector<std::string> arguments) const {
    arguments.insert(arguments.end(), {"--sample-rate", "1kHz", "--channels", "A=3, B=rear,tach=1"});
    return run(arguments);
  }
  Ran track(const std::vector<std::string>& more) const {
    std::vector<std::string> arguments = {"track", "spin.csv", "--rig", "wrong.toml", "--json"};
    arguments.insert(arguments.end(), more.begin(), more.end());
    return run(arguments);
  }
};

void refused(const Ran& ran, int exit_code, const std::string& trouble, const std::string& remedy) {
  CAPTURE(ran.out, ran.err);
  CHECK(ran.exit_code == exit_code);
  CHECK(ran.out.empty());
  const auto mend = ran.err.find("\n mend: ");
  REQUIRE(mend != std::string::npos);
  CHECK(ran.err.substr(0, mend).find(trouble) != std::string::npos);
  CHECK(ran.err.substr(mend).find(remedy) != std::string::npos);
}

}  // namespace

TEST_CASE("rate and channels on the command line give what the rig file's own keys give, to the last digit") {
  const Bay bay;
  const std::vector<std::vector<std::string>> commands = {
      {"track", "spin.csv", "--json", "--rig"},
      {"inspect", "spin.csv", "--json", "--rig"},
      {"sweep", "spin.csv", "--json", "--rig"},
      {"sweep", "spin.csv", "--order-spectrum", "--json", "--rig"},
      {"sweep", "spin.csv", "--map", "--highest-frequency", "60 Hz", "--json", "--rig"}};
  for (std::vector<std::string> command : commands) {
    CAPTURE(command);
    std::vector<std::string> wrong = command;
    command.emplace_back("right.toml");
    wrong.emplace_back("wrong.toml");
    const Ran by_file = bay.run(command);
    REQUIRE(by_file.exit_code == 0);
    CHECK(bay.stated(wrong).out == by_file.out);
    CHECK(bay.run(wrong).exit_code >= 2);
  }
  const std::string solved = bay.run({"solve", "right/spins.toml", "--json"}).out;
  REQUIRE_FALSE(solved.empty());
  const std::string stated = bay.stated({"solve", "wrong/spins.toml", "--json"}).out;
  REQUIRE_FALSE(stated.empty());
  CHECK(json::parse(stated)["planes"] == json::parse(solved)["planes"]);
  CHECK(json::parse(stated)["spins"][2]["sensors"] == json::parse(solved)["spins"][2]["sensors"]);
}

TEST_CASE("a batch takes rate and channels for all its recordings") {
  const Bay bay;
  fs::create_directories(bay.folder / "runs");
  fs::copy_file(bay.folder / "0.csv", bay.folder / "runs/0.csv");
  CHECK(bay.run({"batch", "track", "runs", "--rig", "right.toml", "--out", "right.jsonl"}).exit_code == 0);
  CHECK(bay.stated({"batch", "track", "runs", "--rig", "wrong.toml", "--out", "stated.jsonl"}).exit_code == 0);
  CHECK(read_file(bay.folder / "stated.jsonl") == read_file(bay.folder / "right.jsonl"));
  CHECK(bay.run({"batch", "solve", "right", "--out", "solved.jsonl"}).exit_code == 0);
  CHECK(bay.stated({"batch", "solve", "wrong", "--out", "solved-stated.jsonl"}).exit_code == 0);
  CHECK(json::parse(read_file(bay.folder / "solved-stated.jsonl"))["planes"] ==
        json::parse(read_file(bay.folder / "solved.jsonl"))["planes"]);
}

TEST_CASE("a spin of a job and of work on a rig is measured with what is stated of it") {
  const Bay bay;
  for (const std::string rig : {"right", "wrong"}) {
    const std::string log = rig + ".db";
    REQUIRE(bay.run({"job", "open", "shaft.toml", "--rig", rig + ".toml", "--log", log}).exit_code == 0);
    REQUIRE(bay.run({"rig", "qualify", "--rig", rig + ".toml", "--shaft", "shaft.toml", "--log", log}).exit_code < 2);
  }
  CHECK(bay.run({"job", "spin", "0.csv", "--log", "wrong.db"}).exit_code == 3);
  REQUIRE(bay.run({"job", "spin", "0.csv", "--log", "right.db"}).exit_code == 0);
  REQUIRE(bay.stated({"job", "spin", "0.csv", "--log", "wrong.db"}).exit_code == 0);
  const auto readings = [&](const std::string& log) {
    return json::parse(
        bay.run({"log", "export", "--shaft", "MC-0417", "--log", log}).out)["entries"][0]["details"]["readings"];
  };
  CHECK(readings("wrong.db") == readings("right.db"));
  CHECK(bay.run({"rig", "spin", "1.csv", "--log", "wrong.db"}).exit_code == 3);
  const Ran by_file = bay.run({"rig", "spin", "1.csv", "--json", "--log", "right.db"});
  const Ran by_words = bay.stated({"rig", "spin", "1.csv", "--json", "--log", "wrong.db"});
  CAPTURE(by_file.err, by_words.err);
  CHECK(by_file.exit_code < 2);
  CHECK(by_words.exit_code == by_file.exit_code);
  CHECK(by_words.out == by_file.out);
}

TEST_CASE("a rate that is stated of a recording with another rate is refused, and both are named") {
  const Bay bay;
  const std::vector<std::string> timed = {"track", "timed.csv", "--rig", "wrong.toml", "--channels", "A=4,B=3,tach=2"};
  for (const std::string command : {"track", "inspect", "sweep"}) {
    std::vector<std::string> arguments = timed;
    arguments.front() = command;
    arguments.insert(arguments.end(), {"--sample-rate", "12 kHz"});
    refused(bay.run(arguments), 2, "timed.csv has a sample rate of its own, 1000 Hz, and 12000 Hz is stated",
            "leave --sample-rate out");
    arguments.back() = "1.0005 kHz";
    CHECK(bay.run(arguments).exit_code == 0);
  }
  refused(bay.run({"inspect", "timed.csv", "--sample-rate", "999 Hz"}), 2, "999 Hz is stated",
          "leave --sample-rate out");
  CHECK(bay.run({"inspect", "timed.csv", "--sample-rate", "999.5 Hz"}).exit_code == 0);
  refused(bay.run({"inspect", source_file("data/00-as-found.flac").string(), "--sample-rate", "1 kHz"}), 2,
          "1000 Hz is stated", "leave --sample-rate out");
}

TEST_CASE("a channel list that is not one is refused with what is wrong in it") {
  const Bay bay;
  const auto asked = [&](const std::string& channels) {
    return bay.track({"--sample-rate", "1kHz", "--channels", channels});
  };
  refused(asked("A=3,C=2,tach=1"), 2, "the rig file has no sensor 'C'", "the names are A, B, tach");
  refused(asked("A=3,A=2,tach=1"), 2, "names 'A' twice", "once");
  refused(asked("A=3,B=3,tach=1"), 2, "both A and B are then on channel 3", "--channels A=1,B=2");
  refused(asked("A=3,B=2,tach=2"), 2, "both B and tach are then on channel 2", "name the channel of each");
  refused(asked("B=accel_a"), 2, "both A and B are then on channel accel_a", "name the channel of each");
  refused(asked("A=3,,tach=1"), 2, "an item is empty", "--channels A=2,B=3,tach=1");
  refused(asked("A=3,"), 2, "an item is empty", "--channels A=2,B=3,tach=1");
  for (const std::string item : {"A", "A=", "=3", "front"})
    refused(asked(item), 2, "'" + item + "' does not say NAME=CHANNEL", "write it like");
  refused(asked("A=0"), 2, "0 is no channel", "write it like");
  refused(asked("A=9,B=2,tach=1"), 2, "spin.csv has no channel 9", "--channels");
  refused(bay.track({"--channels", "A=3,B=2,tach=1"}), 3, "has no time column", "--sample-rate \"51.2 kHz\"");
  refused(bay.track({"--sample-rate", "0 Hz"}), 2, "0 Hz is not a sample rate", "more than zero");
  refused(bay.track({"--sample-rate", "fast"}), 2, "'fast' is not a frequency", "");
  CHECK(bay.run({"inspect", "spin.csv", "--channels", "A=3"}).exit_code == 2);  // of no rig
}

TEST_CASE("an order spectrum ends by itself where the sample rate does, and says so") {
  const Bay bay;
  const Ran ran = bay.run({"sweep", "spin.csv", "--rig", "right.toml", "--order-spectrum", "--highest-order", "40"});
  CHECK(ran.exit_code == 0);
  CHECK(ran.err.find("ends at order 15.9 and not at 40") != std::string::npos);  // 0.4 of 1000 Hz at just over 25 Hz
  const json found = json::parse(
      bay.run({"sweep", "spin.csv", "--rig", "right.toml", "--order-spectrum", "--highest-order", "40", "--json"}).out);
  CHECK(found["warnings"][0]["code"] == "orders_lowered");
  const Ran drawn =
      bay.run({"track", "spin.csv", "--rig", "right.toml", "--orders", "1,18", "--picture", "orders.svg"});
  CHECK(drawn.exit_code == 0);
  CHECK(drawn.err.find("ends at order 1") != std::string::npos);
}
