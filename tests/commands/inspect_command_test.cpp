#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <sstream>

#include "support.hpp"

using namespace counterspot::test;
using nlohmann::json;

namespace {

const auto folder = source_file("tests/broken/recordings");

Ran inspect(const std::vector<std::string>& arguments, const std::filesystem::path& input = "/dev/null") {
  std::vector<std::string> all = {"inspect"};
  all.insert(all.end(), arguments.begin(), arguments.end());
  return run_program(all, input, folder);
}

}  // namespace

// The recording: 2 000 samples at 4 kHz; 0.2 of full scale at 20 turns a second plus noise of 0.01; the tach 0 or 0.5
// for a tenth of the time (tools/make-broken.py).
TEST_CASE("inspect tells what is in a recording") {
  Ran ran = inspect({"good.wav", "--json"});
  REQUIRE(ran.exit_code == 0);
  json found = json::parse(ran.out);
  CHECK(found["format"] == "WAV, 32-bit float");
  CHECK(found["sample_rate_hz"] == 4000.0);
  CHECK(found["samples"] == 2000);
  CHECK(found["duration_s"] == 0.5);
  // √(0.2²/2 + 0.01²) = 0.1418; 1e-3 is 4 standard deviations of an rms over 2 000 samples of that noise.
  CHECK(found["channels"][0]["rms"].get<double>() == Approx(0.1418).margin(1e-3));
  CHECK(found["channels"][1]["max"] == 0.5);
  CHECK(found["channels"][1]["mean"].get<double>() == Approx(0.05).margin(1e-3));
  CHECK_FALSE(found.contains("tach"));
}

TEST_CASE("with a rig, inspect tells how tach and sensors fare") {
  json found = json::parse(inspect({"good.wav", "--rig", "rig.toml", "--json"}).out);
  CHECK(found["usable"] == true);
  CHECK(found["tach"]["speed_rpm"].get<double>() == Approx(1200.0).epsilon(1e-3));
  CHECK(found["tach"]["pulses"] == 10);
  // 0.1418 of 10 V over 100 mV/g: 14.18 g.
  CHECK(found["sensors"][0]["rms"].get<double>() == Approx(14.18 * 9.80665).margin(1.0));
  CHECK(found["sensors"][0]["unit"] == "m/s2");
  CHECK(found["sensors"][0]["health"] == "good");
}

TEST_CASE("inspect looks at a recording that cannot be measured, and says why it cannot") {
  json dead = json::parse(inspect({"tach-never-pulses.wav", "--rig", "rig.toml", "--json"}).out);
  CHECK(dead["usable"] == false);
  CHECK_THAT(dead["tach"]["health"].get<std::string>(), Catch::Contains("no pulses were found"));
  CHECK(dead["samples"] == 2000);
  json damaged = json::parse(inspect({"nan-in-sensor.wav", "--rig", "rig.toml", "--json"}).out);
  CHECK(damaged["usable"] == false);
  CHECK(damaged["channels"][0]["not_finite"] == 1);
  CHECK(damaged["sensors"][0]["health"] == "1 samples are not finite numbers, the first at sample 1235");
}

TEST_CASE("a pipe is inspected as its file is") {
  json file = json::parse(inspect({"good.wav", "--rig", "rig.toml", "--json"}).out);
  json pipe = json::parse(inspect({"-", "--rig", "rig.toml", "--json"}, folder / "good.wav").out);
  CHECK(pipe["file"] == "standard input");
  for (json* found : {&file, &pipe}) found->erase("file");
  CHECK(file == pipe);
}

TEST_CASE("of several recordings each gets its line, and the exit code is the worst") {
  Ran ran = inspect({"good.wav", "picture.png", "good.csv", "--json"});
  CHECK(ran.exit_code == 3);
  std::istringstream lines(ran.out);
  std::vector<json> found;
  for (std::string line; std::getline(lines, line);) found.push_back(json::parse(line));
  REQUIRE(found.size() == 3);
  CHECK(found[1]["error"]["code"] == "unreadable");
  CHECK(found[2]["samples"] == 2000);
}

TEST_CASE("what a person sees fits on one screen and ends with what to do next") {
  for (const std::vector<std::string>& arguments : {std::vector<std::string>{"good.csv"},
                                                    {"good.wav", "--rig", "rig.toml"},
                                                    {"tach-is-noise.wav", "--rig", "rig.toml"}}) {
    Ran ran = inspect(arguments);
    CHECK(ran.exit_code == 0);
    CHECK(std::count(ran.out.begin(), ran.out.end(), '\n') <= 24);
    auto last = ran.out.rfind('\n', ran.out.size() - 2) + 1;
    CHECK(ran.out.substr(last, 6) == "NEXT  ");
  }
}

TEST_CASE("without a rig file, inspect says what to write into it where several channels may be meant") {
  const std::string out = inspect({"good.csv"}).out;
  CHECK_THAT(out, Catch::Contains("\nWRITE IN THE RIG FILE   under (a line for each sensor, one for the tach)\n"
                                  "channel = \"accel\"       [[sensor]] or [tach]\n"
                                  "channel = \"tach\"        [[sensor]] or [tach]\n"));
  const json found = json::parse(inspect({"good.wav", "--json"}).out);
  CHECK(found["to_choose"] == json::parse(R"([{"line":"channel = 1","sections":["sensor","tach"],"remark":""},
                                              {"line":"channel = 2","sections":["sensor","tach"],"remark":""}])"));
  CHECK_FALSE(json::parse(inspect({"good.wav", "--rig", "rig.toml", "--json"}).out).contains("to_choose"));
}

TEST_CASE("a rig file that names no channel of the recording is told what it could say") {
  const Ran ran = inspect({"good.csv", "--rig", "rig.toml", "--channels", "A=acceleration"});
  CHECK(ran.exit_code == 2);
  CHECK_THAT(ran.err, Catch::Contains("it has columns 1 'time', 2 'accel', 3 'tach'; write one of these into the rig "
                                      "file, as in channel = \"accel\""));
}
