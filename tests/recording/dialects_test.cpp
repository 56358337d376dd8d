#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "counterspot/files/files.hpp"
#include "counterspot/tracking/spin_inspection.hpp"
#include "recording_support.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;
using nlohmann::json;

namespace {

const std::filesystem::path folder = source_file("tests/recording/dialects");

std::string text_of_file(const std::filesystem::path& path) {
  std::ostringstream text;
  text << std::ifstream(path, std::ios::binary).rdbuf();
  return text.str();
}

std::string channel(const json& name) {
  return name.is_number() ? name.dump() : fmt::format("\"{}\"", name.get<std::string>());
}

Rig rig_for(const json& one) {
  const std::string rate =
      one.contains("sample_rate") ? fmt::format("sample_rate = \"{}\"\n", one["sample_rate"].get<std::string>()) : "";
  return read_rig_text(
      fmt::format("[rig]\nname = \"bay 2\"\nrotation = \"clockwise\"\nviewing_end = \"A\"\n{}[tach]\nchannel = {}\n"
                  "[[sensor]]\nname = \"A\"\nchannel = {}\nsensitivity = \"50 mV/g\"\n[recording]\n{}\n",
                  rate, channel(one["tach"]), channel(one["sensor"]), one.value("recording", "")),
      "rig.toml");
}

std::string table_of(const RecordingInfo& info) {
  std::string text;
  for (const TakenFor& taken : info.taken)
    text += fmt::format("{} | {}{}{}\n", taken.what, taken.as, taken.stated.empty() ? "" : " | ", taken.stated);
  return text;
}

/// Everything that was taken for something, in every file that is read.
std::string all_tables() {
  std::string text;
  for (const json& one : json::parse(text_of_file(folder / "cases.json"))) {
    if (one.contains("error")) continue;
    const auto name = one["file"].get<std::string>();
    const auto found = inspect_recording(folder / name, rig_for(one));
    text += fmt::format("{}\n{}\n", name, table_of(found.recording->info()));
  }
  return text;
}

}  // namespace

// The spin is made of two orders (dialects/make.py): 2 g peak at a lag of 47 deg is the answer. The least that the
// files hold is 1e-4 g (mg: 1e-4 g; mm/s2: finer) in each of 112 samples: sqrt(2/112)·1e-4/sqrt(12) = 4e-6 g in the
// amplitude; 1e-5 of 2 g and 1e-3 deg leave room for several of these.
TEST_CASE("a spin is the same vector however its table is written") {
  constexpr double tolerance_g = 2e-5;
  constexpr double tolerance_deg = 1e-3;
  std::size_t read = 0;
  for (const json& one : json::parse(text_of_file(folder / "cases.json"))) {
    if (one.contains("error")) continue;
    const auto name = one["file"].get<std::string>();
    CAPTURE(name);
    const auto found = inspect_recording(folder / name, rig_for(one));
    CHECK(found.recording->frames() == 112);
    CHECK(found.recording->info().sample_rate_Hz == Approx(400.0).epsilon(1e-6));
    if (found.trouble) FAIL_CHECK(found.trouble->what());
    if (!found.track) continue;
    const OrderVector& order = found.track->sensors.at(0).orders.at(0);
    CHECK(order.amplitude() / 9.80665 == Approx(2.0).margin(tolerance_g));
    CHECK(order.phase_lag_deg() == Approx(47.0).margin(tolerance_deg));
    ++read;
  }
  CHECK(read >= 60);
}

TEST_CASE("a table that cannot be read is refused with its line, what stands there, and what to write") {
  std::size_t refused = 0;
  for (const json& one : json::parse(text_of_file(folder / "cases.json"))) {
    if (!one.contains("error")) continue;
    const auto name = one["file"].get<std::string>();
    CAPTURE(name);
    const Rig rig = rig_for(one);
    const Error error = error_of_reading(folder / name, recording_options(rig));
    CHECK_THAT(error.what(), Catch::Contains(one["error"].get<std::string>()));
    CHECK_THAT(error.remedy(), Catch::Contains(one["remedy"].get<std::string>()));
    ++refused;
  }
  CHECK(refused >= 8);
}

TEST_CASE("what a table is taken for is what it was taken for when it was looked through") {
  CHECK(all_tables() == text_of_file(folder / "taken.txt"));
}

// What `inspect` shows is of use only if it means what it says.
TEST_CASE("a table of which everything is stated as it was taken is read the same") {
  for (const json& one : json::parse(text_of_file(folder / "cases.json"))) {
    if (one.contains("error")) continue;
    const auto name = one["file"].get<std::string>();
    CAPTURE(name);
    const Rig rig = rig_for(one);
    const auto found = open_recording(folder / name, recording_options(rig));
    std::string stated;
    for (const TakenFor& taken : found->info().taken) stated += taken.stated + "\n";
    CAPTURE(stated);
    json again = one;
    again["recording"] = stated;
    const Rig rig_again = rig_for(again);
    const auto found_again = open_recording(folder / name, recording_options(rig_again));
    CHECK(found_again->info().sample_rate_Hz == found->info().sample_rate_Hz);
    CHECK(read_all(*found_again) == read_all(*found));
  }
}

TEST_CASE("keep what the tables are taken for", "[.][keep]") {
  std::ofstream(folder / "taken.txt") << all_tables();
}

TEST_CASE("what the rig file says of a table goes before what the table seems to be") {
  TemporaryFolder here;
  const auto path = write_file(here / "spin.csv", "time,accel_g\n0,1\n20,2\n40,4\n");
  CHECK(open_recording(path)->info().sample_rate_Hz == Approx(0.05));
  RecordingOptions options;
  options.format.time_unit = "ms";
  options.format.units = {{"accel_g", "mm/s"}};
  const auto recording = open_recording(path, options);
  CHECK(recording->info().sample_rate_Hz == Approx(50.0));
  CHECK(recording->info().channels[1].unit == "mm/s");
  options.format.time = "accel";
  options.format.time_unit = "s";
  CHECK(open_recording(write_file(here / "other.csv", "accel_g,x\n1,0\n2,0\n3,0\n"), options)->info().time_channel ==
        0);
  options.format.time = "when";
  CHECK(error_of_reading(path, options).code() == "no_such_channel");
  options.format = {};
  options.format.units = {{"force", "g"}};
  CHECK(error_of_reading(path, options).code() == "no_such_channel");
  options.format = {};
  options.format.encoding = "Marrow Creek";
  CHECK(error_of_reading(path, options).code() == "bad_encoding");
}

TEST_CASE("units are found behind names, and letters that number columns are none") {
  TemporaryFolder here;
  const auto units = [&](const std::string& header) {
    std::string found;
    std::string row;
    const auto cells = std::count(header.begin(), header.end(), ',') + 1;
    for (std::ptrdiff_t i = 0; i < cells; ++i) row += i == 0 ? "1" : ",1";
    RecordingOptions options;
    options.sample_rate_Hz = 1.0;
    const auto recording =
        open_recording(write_file(here / "spin.csv", header + "\n" + row + "\n" + row + "\n"), options);
    for (const ChannelInfo& column : recording->info().channels)
      found += fmt::format("{}[{}] ", column.name, column.unit);
    return found;
  };
  CHECK(units("left_f,left_g,left_h") == "left_f[] left_g[] left_h[] ");
  CHECK(units("left_g,right_g") == "left[g] right[g] ");
  CHECK(units("vel mm/s,rate_in/s") == "vel[mm/s] rate[in/s] ");
  CHECK(units("bearing_s,tach in,bay m") == "bearing_s[] tach in[] bay m[] ");
  CHECK(units("a (V/(m/s2)),b (left)") == "a[V/(m/s2)] b[left] ");
}

TEST_CASE("a footer is left out wherever the text is cut into pieces, and only at the end") {
  TemporaryFolder here;
  RecordingOptions options;
  options.sample_rate_Hz = 1.0;
  constexpr std::size_t piece = std::size_t{1} << 18;
  std::string rows = "a,b\n";
  for (const std::size_t before : {60UL, 45UL, 30UL, 10UL}) {  // the footer begins so many bytes before a piece ends
    while (rows.size() < piece - before) rows += "1.5,2\n";
    const auto path = write_file(here / "spin.csv", rows + "1,2\nEnd of the recording\nMarrow Creek, bay 2\n");
    const auto expected = static_cast<std::size_t>(std::count(rows.begin(), rows.end(), '\n')) * 2;
    CHECK(read_all(path, options).size() == expected);
  }
  const Error error = error_of_reading(write_file(here / "spin.csv", rows + "End\n1,2\n"), options);
  CHECK(error.code() == "ragged_row");
  CHECK_THAT(error.remedy(), Catch::Contains("begin a line that is no row with #"));
}

TEST_CASE("edge times are read in the unit that their column states") {
  TemporaryFolder here;
  CHECK(read_times(write_file(here / "tach.csv", "time_ms\n500\n750\n")) == std::vector<double>{0.5, 0.75});
  CHECK(read_times(write_file(here / "two.csv", "mark;Zeit (ms)\nA;500\nA;750\n"), "A") ==
        std::vector<double>{0.5, 0.75});
}
