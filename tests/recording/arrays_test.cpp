// Recordings in files of arrays. That samples are those which NumPy, SciPy and h5py read is shown in tests/reference.
#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>

#include "recording_support.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;
using Catch::Contains;

namespace {

std::filesystem::path kept(const std::string& name) {
  return source_file("tests/recording/arrays/" + name);
}

RecordingOptions at_500_Hz() {
  RecordingOptions options;
  options.sample_rate_Hz = 500.0;
  return options;
}

/// The bytes of one array as NumPy writes it.
std::string npy(const std::string& descr, const std::string& shape, const std::vector<double>& values) {
  std::string head = "{'descr': " + descr + ", 'fortran_order': False, 'shape': " + shape + ", }";
  head.resize(118 - 1, ' ');
  head += '\n';
  std::string bytes = std::string("\x93NUMPY\x01", 7) + '\0' + static_cast<char>(head.size()) + '\0' + head;
  const std::size_t begin = bytes.size();
  bytes.resize(begin + values.size() * sizeof(double));
  if (!values.empty()) std::memcpy(bytes.data() + begin, values.data(), values.size() * sizeof(double));
  return bytes;
}

std::vector<double> counted(std::size_t count) {
  std::vector<double> values(count);
  for (std::size_t i = 0; i < count; ++i) values[i] = static_cast<double>(i);
  return values;
}

std::string table_of(const RecordingInfo& info) {
  std::string table;
  for (const TakenFor& taken : info.taken) table += taken.what + ": " + taken.as + "\n";
  return table;
}

}  // namespace

TEST_CASE("the split into blocks has no meaning in files of arrays") {
  const std::string name = GENERATE("frames.npy", "rows.npy", "fortran.npy", "records.npy", "arrays.npz", "packed.npz",
                                    "variables.mat", "packed.mat", "groups.h5", "text.uff", "binary.uff");
  CAPTURE(name);
  const auto at_once = read_all(kept(name), at_500_Hz());
  const auto in_pieces = open_recording(kept(name), at_500_Hz());
  CHECK(read_all(*in_pieces, {1, 7, 64, 3}) == at_once);
  CHECK(at_once.size() == 200 * in_pieces->info().channels.size());
  CHECK(in_pieces->info().sample_rate_Hz == Approx(500.0));
}

TEST_CASE("a file of arrays is read from a pipe as from a disk") {
  const std::string name = GENERATE("frames.npy", "packed.npz", "packed.mat", "groups.h5");
  CAPTURE(name);
  const PipedInput input(read_file(kept(name)));
  CHECK(read_all("-", at_500_Hz()) == read_all(kept(name), at_500_Hz()));
}

TEST_CASE("the table of what was taken for what names all that a file of arrays holds") {
  CHECK(table_of(open_recording(kept("packed.mat"))->info()) ==
        "channel 1 'run.a': volts: no unit is stated; 64-bit float\n"
        "channel 2 'run.b': volts: no unit is stated; 64-bit float\n"
        "'run.dt': the rate: 500 Hz\n"
        "'edges': 10 values, left out\n"
        "'levels': 3 values, left out\n"
        "'cells': a cell array, whose parts are not looked into, left out\n"
        "times: none: the rate is given\n");
  CHECK(table_of(open_recording(kept("groups.h5"))->info()) ==
        "channel 1 'run/a': acceleration, in g; 64-bit float\n"
        "channel 2 'run/b': volts: no unit is stated; 32-bit float\n"
        "channel 3 'run/tach': volts: no unit is stated; 64-bit float\n"
        "'words': text, left out\n"
        "times: none: the rate is given\n");
  CHECK(table_of(open_recording(kept("records.npy"))->info()) ==
        "channel 1 'time': the times, in s\n"
        "channel 2 'a': volts: no unit is stated; 32-bit float\n"
        "channel 3 'b': volts: no unit is stated; 64-bit float\n"
        "channel 4 'tach': counts of a converter, as it seems: no unit is stated; 8-bit whole numbers\n"
        "'note': text, left out\n");
  const std::string universal =
      "channel 1 'left': acceleration, in g; 64-bit float\n"
      "channel 2 '2:-Z': acceleration, in m/s2; 64-bit float\n"
      "channel 3 'tach': voltage, in V; 64-bit float\n"
      "times: none: the rate is given\n";
  CHECK(table_of(open_recording(kept("text.uff"))->info()) == universal);
  CHECK(table_of(open_recording(kept("binary.uff"))->info()) == universal);
}

TEST_CASE("text and binary values of a universal file are the same recording") {
  CHECK(read_all(kept("text.uff")) == read_all(kept("binary.uff")));
}

TEST_CASE("an array of another length that the rig names for its tach holds edge times") {
  Rig rig;
  rig.tach.channel = "edges";
  rig.sensors = {{.name = "A", .channel = "a", .sensitivity = {}}};
  const auto recording = open_recording(kept("packed.mat"), recording_options(rig));
  CHECK(recording->info().edge_times_s.size() == 10);
  CHECK(recording->info().edge_times_s[1] == Approx(0.04));
  CHECK_FALSE(find_tach_channel(recording->info(), rig.tach));
  rig.tach.channel = "b";
  CHECK(find_tach_channel(open_recording(kept("packed.mat"), recording_options(rig))->info(), rig.tach) == 1U);
}

TEST_CASE("an array of another length that is asked for as a channel is named with its length") {
  RecordingOptions options;
  options.named = {"a"};
  const auto info = open_recording(kept("packed.mat"), options)->info();
  CHECK_THAT(error_of([&] { find_channel(info, "levels", "sensor B"); }).what(), Contains("(3 values, left out)"));
}

TEST_CASE("edge times that do not increase are none, nor is a single number") {
  Rig rig;
  rig.sensors = {{.name = "A", .channel = "a", .sensitivity = {}}};
  const auto refusal = [&](const std::string& tach) {
    rig.tach.channel = tach;
    return error_of(
        [&] { find_tach_channel(open_recording(kept("packed.mat"), recording_options(rig))->info(), rig.tach); });
  };
  CHECK(refusal("levels").code() == "not_increasing");
  CHECK_THAT(refusal("levels").what(), Contains("its value 2 does not come after"));
  CHECK(refusal("dt").code() == "no_such_channel");
}

TEST_CASE("a channel may be named by the end of its name if that means one") {
  const auto info = open_recording(kept("groups.h5"))->info();
  CHECK(find_channel(info, "tach", "the tach") == 2);
  CHECK(find_channel(info, "run/a", "sensor A") == 0);
  CHECK(error_of([&] { find_channel(info, "ach", "the tach"); }).code() == "no_such_channel");
  RecordingInfo twice;
  twice.channels = {{"left/tach", ""}, {"right/tach", ""}};
  const Error error = error_of([&] { find_channel(twice, "tach", "the tach"); });
  CHECK(error.code() == "no_such_channel");
  CHECK_THAT(error.what(), Contains("which the rig file gives for the tach (2 of its columns end so)"));
  CHECK_THAT(error.remedy(), Contains("1 'left/tach', 2 'right/tach'") && Contains("channel = \"left/tach\""));
}

TEST_CASE("what is no recording among files of arrays is refused with what it is") {
  const TemporaryFolder folder;
  const auto refusal = [&](const std::string& bytes) {
    return error_of_reading(write_file(folder / "spin.npy", bytes), at_500_Hz());
  };
  CHECK(refusal(npy("'<f8'", "(100, 3)", counted(30))).code() == "short_data");
  CHECK_THAT(refusal(npy("'<f8'", "(100, 3)", counted(30))).what(),
             Contains("announces 300 values") && Contains("holds 30"));
  CHECK(refusal(npy("'<f8'", "(0,)", {})).code() == "no_data");
  CHECK_THAT(refusal(npy("'|O'", "(2,)", counted(4))).what(), Contains("Python objects"));
  CHECK_THAT(refusal(npy("'<c16'", "(2,)", counted(4))).what(), Contains("complex numbers"));
  CHECK_THAT(refusal(npy("'<f8'", "(6, 6)", counted(36))).what(), Contains("6 x 6 values"));
  CHECK(refusal(npy("'<f8'", "(99999999999, 99999999999)", counted(4))).code() == "bad_header");
  CHECK(refusal(npy("<f8", "(4,)", counted(4))).code() == "bad_header");
  CHECK(refusal(npy("'<f8'", "(4,)", counted(4)).substr(0, 40)).code() == "bad_header");
  CHECK(error_of_reading(write_file(folder / "spin.npy", npy("'<f8'", "(4,)", counted(4)))).code() == "no_sample_rate");
}

TEST_CASE("whole numbers are not taken for volts unless that is stated") {
  Sensor sensor;
  sensor.name = "A";
  sensor.channel = "tach";
  const auto path = kept("records.npy");
  const Error error = error_of([&] { sensor_scale(open_recording(path)->info(), sensor); });
  CHECK(error.code() == "wrong_unit");
  CHECK_THAT(error.what(), Contains("'counts'"));
  CHECK_THAT(error.remedy(), Contains("units.\"tach\" = \"V\""));
  RecordingOptions options;
  options.format.units = {{"tach", "V"}};
  CHECK(sensor_scale(open_recording(path, options)->info(), sensor).si_per_unit == 1.0);
}

TEST_CASE("rows lost in an array of times are refused with the frame") {
  const TemporaryFolder folder;
  std::vector<double> values;
  for (int k = 0; k < 6000; ++k) {
    values.push_back(0.001 * (k < 5000 ? k : k + 3));
    values.push_back(0.5);
  }
  const auto path = write_file(folder / "spin.npy", npy("[('time', '<f8'), ('a', '<f8')]", "(6000,)", values));
  const Error error = error_of_reading(path);
  CHECK(error.code() == "uneven_time");
  CHECK_THAT(error.what(), Contains("frame 5001"));
}

TEST_CASE("a damaged file of arrays is refused, or read for what is whole") {
  const TemporaryFolder folder;
  const std::string name = GENERATE("packed.npz", "packed.mat", "variables.mat", "groups.h5", "text.uff", "binary.uff");
  CAPTURE(name);
  const std::string whole = read_file(kept(name));
  for (std::size_t length = 130; length < whole.size(); length += 97) {
    CAPTURE(length);
    try {
      read_all(write_file(folder / name, whole.substr(0, length)), at_500_Hz());
    } catch (const Error& error) {
      CHECK(error.trouble() == Trouble::recording);
    }
  }
}

TEST_CASE("edge times may be an array of one axis") {
  const TemporaryFolder folder;
  const auto times = [&](const std::string& bytes, const std::string& mark = "") {
    return read_times(write_file(folder / "edges.npy", bytes), mark);
  };
  CHECK(times(npy("'<f8'", "(4,)", {0.1, 0.2, 0.3, 0.45})) == std::vector<double>{0.1, 0.2, 0.3, 0.45});
  CHECK(times(npy("'<f8'", "(4, 1)", {0.1, 0.2, 0.3, 0.45})) == std::vector<double>{0.1, 0.2, 0.3, 0.45});
  CHECK(times(npy("[('edges (ms)', '<f8')]", "(3,)", {100, 200, 300})) == std::vector<double>{0.1, 0.2, 0.3});
  std::vector<double> many = counted(150000);
  CHECK(times(npy("'<f8'", "(150000,)", many)) == many);
  many[140000] = 139999.0;
  const Error late = error_of([&] { times(npy("'<f8'", "(150000,)", many)); });
  CHECK(late.code() == "not_increasing");
  CHECK_THAT(late.what(), Contains("value 140001: 139999 s does not come after 139999 s"));
}

TEST_CASE("an array that holds no edge times is refused with what would") {
  const TemporaryFolder folder;
  const auto refusal = [&](const std::string& bytes, const std::string& mark = "") {
    return error_of([&] { read_times(write_file(folder / "edges.npy", bytes), mark); });
  };
  CHECK(refusal(npy("'<f8'", "(3, 2)", counted(6))).code() == "no_data");
  CHECK_THAT(refusal(npy("'<f8'", "(3, 2)", counted(6))).remedy(), Contains("one array of one axis"));
  CHECK(refusal(npy("'<f8'", "(0,)", {})).code() == "no_data");
  CHECK(refusal(npy("'|S8'", "(2,)", {0.1, 0.2})).code() == "no_data");
  CHECK(refusal(npy("'<f8'", "(2,)", {0.1, std::nan("")})).code() == "bad_number");
  CHECK(refusal(npy("'<f8'", "(2,)", {0.1, 0.2}), "A").code() == "no_such_channel");  // a column 'mark' to look in
  CHECK(error_of([&] { read_times(kept("arrays.npz")); }).code() == "no_data");
}
