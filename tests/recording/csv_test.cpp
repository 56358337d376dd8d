#include <fmt/format.h>
#include <rapidcheck.h>
#include <sndfile.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <cstdlib>

#include "recording_support.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

using Samples = std::vector<double>;

RecordingOptions at_rate(double rate_Hz) {
  RecordingOptions options;
  options.sample_rate_Hz = rate_Hz;
  return options;
}

/// A table in one way of writing it.
std::string table(const Samples& samples, std::size_t columns, const std::string& separator, char decimal, bool quoted,
                  const std::string& line_end) {
  std::string text;
  for (std::size_t c = 0; c < columns; ++c) text += (c == 0 ? "" : separator) + fmt::format("c{} (V)", c);
  for (std::size_t i = 0; i < samples.size(); ++i) {
    std::string cell = fmt::format("{}", samples[i]);
    std::replace(cell.begin(), cell.end(), '.', decimal);
    if (quoted) cell = '"' + cell + '"';
    text += (i % columns == 0 ? line_end : separator) + cell;
  }
  return text + line_end;
}

/// Rows of time (so many decimals) and a value.
std::string timed(std::size_t rows, double rate_Hz, int decimals, const std::string& header = "time (s),x") {
  std::string text = header + "\n";
  for (std::size_t k = 0; k < rows; ++k) {
    text += fmt::format("{:.{}f},{}\n", static_cast<double>(k) / rate_Hz, decimals, k);
  }
  return text;
}

}  // namespace

TEST_CASE("a table is the same numbers however it is written") {
  TemporaryFolder folder;
  CHECK(rc::check([&] {
    auto columns = *rc::gen::inRange<std::size_t>(1, 6);
    auto rows = *rc::gen::inRange<std::size_t>(1, 50);
    auto whole = *rc::gen::container<std::vector<int>>(rows * columns, rc::gen::arbitrary<int>());
    Samples samples(whole.begin(), whole.end());
    for (double& sample : samples) sample *= 1e-5;
    auto separator = *rc::gen::element<std::string>(",", ";", "\t", " ; ", ", ");
    bool comma = separator.find(',') == std::string::npos && columns > 1 && *rc::gen::arbitrary<bool>();
    auto path = write_file(folder / "spin.csv",
                           table(samples, columns, separator, comma ? ',' : '.', *rc::gen::arbitrary<bool>(),
                                 *rc::gen::element<std::string>("\n", "\r\n")));
    RC_ASSERT(read_all(path, at_rate(1000.0)) == samples);
  }));
}

TEST_CASE("a table gives what a WAV of the same samples gives") {
  TemporaryFolder folder;
  Samples samples;
  for (int i = 0; i < 60000; ++i) samples.push_back(std::sin(0.37 * i));
  write_sound(folder / "spin.wav", SF_FORMAT_WAV | SF_FORMAT_DOUBLE, 3, samples);
  write_file(folder / "spin.csv", table(samples, 3, ",", '.', false, "\n"));  // several pieces
  CHECK(read_all(folder / "spin.csv", at_rate(51200.0)) == read_all(folder / "spin.wav"));
}

TEST_CASE("how the rows of a table are split into blocks does not matter, read ahead or not, file or pipe") {
  TemporaryFolder folder;
  Samples samples;
  for (int i = 0; i < 150000; ++i) samples.push_back(std::sin(0.37 * i));
  const std::string text = table(samples, 3, ";", ',', false, "\r\n");
  write_file(folder / "spin.csv", text);
  auto whole_numbers = [&](std::size_t blocks, bool ahead) {
    RecordingOptions options = at_rate(1000.0);
    options.read_ahead = ahead;
    auto recording = open_recording(folder / "spin.csv", options);
    return read_all(*recording, {blocks, blocks / 3 + 1, 1});
  };
  for (std::size_t blocks : {1UL, 10UL, 4096UL, 60000UL}) {
    CHECK(whole_numbers(blocks, true) == samples);
    CHECK(whole_numbers(blocks, false) == samples);
  }
  PipedInput input(text);
  CHECK(read_all("-", at_rate(1000.0)) == samples);
}

TEST_CASE("names and units come from the header") {
  TemporaryFolder folder;
  auto path = write_file(
      folder / "spin.csv",
      "\xEF\xBB\xBF# Marrow Creek Shaftworks, bay 2\n\n"
      "Time [ms]; accel (g) ;\"tach, left (V)\";force (V/(m/s2));plain\n0;1;2;3;4\n# pause\n\n0,5;1,5;2;3;4\n");
  auto recording = open_recording(path);
  const auto& info = recording->info();
  REQUIRE(info.channels.size() == 5);
  const std::vector<std::pair<std::string, std::string>> expected = {
      {"Time", "ms"}, {"accel", "g"}, {"tach, left", "V"}, {"force", "V/(m/s2)"}, {"plain", ""}};
  for (std::size_t i = 0; i < 5; ++i) {
    CHECK(info.channels[i].name == expected[i].first);
    CHECK(info.channels[i].unit == expected[i].second);
  }
  CHECK_FALSE(info.full_scale);
  CHECK(info.time_channel == 0);
  CHECK(info.sample_rate_Hz == Approx(2000.0).epsilon(1e-12));
  CHECK(info.format == "CSV, ';' separated, decimal comma");
  CHECK(read_all(*recording) == Samples{0, 1, 2, 3, 4, 0.5, 1.5, 2, 3, 4});
}

TEST_CASE("time is found by its name or its unit, in any column") {
  TemporaryFolder folder;
  for (const char* header : {"x,time", "x,time_s", "x,T", "x,TIME (s)", "x,elapsed (s)", "x,t [s]"}) {
    CAPTURE(header);
    auto info = open_recording(write_file(folder / "t.csv", std::string(header) + "\n7,5.0\n7,5.1\n7,5.2\n"))->info();
    CHECK(info.time_channel == 1);
    CHECK(info.sample_rate_Hz == Approx(10.0).epsilon(1e-12));
    CHECK(info.start_time_s == 5.0);
  }
}

TEST_CASE("a table without a header or without time takes the rate it is given") {
  TemporaryFolder folder;
  auto path = write_file(folder / "spin.csv", "1,2\n3,4\n");
  CHECK(error_of_reading(path).code() == "no_sample_rate");
  auto recording = open_recording(path, at_rate(51200.0));
  CHECK(recording->info().sample_rate_Hz == 51200.0);
  CHECK(recording->info().channels[1].name == "2");
  CHECK(read_all(*recording) == Samples{1, 2, 3, 4});
  for (double rate : {0.0, -1.0, std::nan(""), HUGE_VAL}) {
    CHECK(error_of_reading(path, at_rate(rate)).code() == "bad_sample_rate");
  }
}

TEST_CASE("numbers are taken in every usual spelling") {
  TemporaryFolder folder;
  auto path = write_file(folder / "spin.csv", "a,b,c\n+1.5,-2e-3, 3 \n\"4\",5.,.5\n1E5,nan,-inf\n7,8,9");
  auto samples = read_all(path, at_rate(1.0));
  REQUIRE(samples.size() == 12);
  CHECK(Samples(samples.begin(), samples.begin() + 7) == Samples{1.5, -2e-3, 3, 4, 5, 0.5, 1e5});
  CHECK(std::isnan(samples[7]));  // for the measurement to refuse, if the channel is used
  CHECK(samples[8] == -HUGE_VAL);
  CHECK(samples[11] == 9.0);  // the last line needs no newline
}

// The C library's strtod, which glibc rounds correctly, is the peer.
TEST_CASE("a number with few or many digits is the double next to it") {
  TemporaryFolder folder;
  const std::string digits = "73205080756887729352";
  std::string text = "a,b\n";
  Samples expected;
  for (std::size_t whole = 1; whole < digits.size(); ++whole) {
    for (std::size_t decimals = 0; decimals < digits.size(); ++decimals) {
      std::string number = digits.substr(0, whole);
      if (decimals > 0) number += "." + digits.substr(digits.size() - decimals);
      text += number + ",-" + number + "\n";
      expected.push_back(std::strtod(number.c_str(), nullptr));
      expected.push_back(-expected.back());
    }
  }
  CHECK(read_all(write_file(folder / "spin.csv", text), at_rate(1.0)) == expected);
}

TEST_CASE("a table of nothing but single digits has the most numbers in the least text") {
  TemporaryFolder folder;
  std::string text = "a\n";
  Samples expected;
  for (int i = 0; i < 400000; ++i) {
    expected.push_back(i % 10);
    text += fmt::format("{}\n", i % 10);
  }
  CHECK(read_all(write_file(folder / "spin.csv", text), at_rate(1.0)) == expected);
}

TEST_CASE("a recorder that was switched off leaves half a row, which is left out with a warning") {
  TemporaryFolder folder;
  auto path = write_file(folder / "spin.csv", "a,b,c\n1,2,3\n4,5");
  auto recording = open_recording(path, at_rate(1.0));
  CHECK(read_all(*recording) == Samples{1, 2, 3});
  REQUIRE(recording->warnings().size() == 1);
  CHECK(recording->warnings()[0].code == WarningCode::short_data);
}

TEST_CASE("what is wrong far down in a table is said with its line, whoever read it") {
  TemporaryFolder folder;
  std::vector<std::string> lines = {"time (s),accel (g)", "# Marrow Creek Shaftworks", ""};
  for (int i = 0; i < 100000; ++i) lines.push_back(fmt::format("{:.5f},{:.6f}", 1e-4 * i, std::sin(0.37 * i)));
  const auto error_with = [&](std::size_t line, const std::string& text, bool ahead) {
    auto changed = lines;
    changed[line - 1] = text;
    write_file(folder / "spin.csv", fmt::format("{}\n", fmt::join(changed, "\n")));
    RecordingOptions options;
    options.read_ahead = ahead;
    return error_of_reading(folder / "spin.csv", options);
  };
  for (const bool ahead : {true, false}) {
    for (const std::size_t line : {5000UL, 70000UL, 100003UL}) {
      CAPTURE(ahead, line);
      const std::string where = fmt::format("{}, line {}", (folder / "spin.csv").string(), line);
      CHECK(std::string(error_with(line, "0.5,broken", ahead).what()).starts_with(where + ", column 2"));
      CHECK(std::string(error_with(line, "0.5,1,2", ahead).what()).starts_with(where + ": 3 cells"));
      CHECK(std::string(error_with(line, "0.0001,1", ahead).what()).starts_with(where + ": time goes back"));
    }
  }
}

TEST_CASE("what is wrong in a table is said with file, line and column") {
  TemporaryFolder folder;
  auto path = write_file(folder / "spin.csv", "a,b (g)\n# note\n1,2\n\n3,4..5\n");
  Error error = error_of_reading(path, at_rate(1.0));
  CHECK(error.code() == "bad_number");
  CHECK(error.trouble() == Trouble::recording);
  CHECK(error.what() == path.string() + ", line 5, column 2 ('b') holds '4..5', which is not a number");
}

TEST_CASE("the rate is right even where the times are rounded") {
  TemporaryFolder folder;
  // 51.2 kHz with 6 decimals: the steps read 19 or 20 us. The slope through 4 096 evenly spread roundings of 1 us has a
  // standard deviation of 1 us·√(1/12)·√12/4096^1.5 = 3.8 ps a step, 2e-7 of 19.53 us; 4 of them are allowed.
  auto path = write_file(folder / "spin.csv", timed(200000, 51200.0, 6));
  auto recording = open_recording(path);
  CHECK(recording->info().sample_rate_Hz == Approx(51200.0).epsilon(8e-7));
  CHECK(read_all(*recording).size() == 400000);
  CHECK(recording->warnings().empty());
}

TEST_CASE("a time that wavers is said, and one as far off as if a row was lost is refused") {
  TemporaryFolder folder;
  auto with_departure = [&](std::size_t row, double departure) {
    std::string text = "time,x\n";
    for (std::size_t k = 0; k < 20000; ++k) {
      text += fmt::format("{:.9f},0\n", (static_cast<double>(k) + (k == row ? departure : 0.0)) * 1e-3);
    }
    return write_file(folder / "spin.csv", text);
  };
  for (std::size_t row : {100UL, 15000UL}) {  // among the rows that give the rate, and after
    CAPTURE(row);
    Error error = error_of_reading(with_departure(row, 0.7));
    CHECK(error.code() == "uneven_time");
    CHECK_THAT(error.what(), Catch::Contains(fmt::format("line {}", row + 2)));
    auto recording = open_recording(with_departure(row, 0.005));
    CHECK(read_all(*recording).size() == 40000);
    REQUIRE(recording->warnings().size() == 1);
    CHECK(recording->warnings()[0].code == WarningCode::uneven_time);
    CHECK_THAT(recording->warnings()[0].message,
               Catch::Contains("by up to 0.5 % of a sample interval and are taken as " +
                               std::string(row == 100 ? "they" : "even")));
    auto clean = open_recording(with_departure(row, 0.0005));
    read_all(*clean);
    CHECK(clean->warnings().empty());
  }
}

TEST_CASE("a first row that is stated beyond the table's end is refused") {
  TemporaryFolder folder;
  RecordingOptions options;
  options.format.first_row = 9;
  const Error error = error_of_reading(write_file(folder / "spin.csv", "time,x\n0,1\n1,2\n"), options);
  CHECK(error.code() == "bad_first_row");
  CHECK_THAT(error.what(), Catch::Contains("no row at line 9"));
}

TEST_CASE("six digits of a time are rounding, also where they leave fewer decimals past a second") {
  TemporaryFolder folder;
  std::string text = "time,x\n";
  for (int k = 0; k < 120000; ++k) text += fmt::format("{:.6g},0\n", k / 51200.0);
  auto recording = open_recording(write_file(folder / "spin.csv", text));
  CHECK(read_all(*recording).size() == 240000);
  CHECK(recording->warnings().empty());
  // 4096 roundings of 1 us: as in the case above.
  CHECK(recording->info().sample_rate_Hz == Approx(51200.0).epsilon(8e-7));
}

TEST_CASE("lost rows, time that stands still and time that goes back are refused wherever they are") {
  TemporaryFolder folder;
  for (std::size_t at : {3UL, 4095UL, 4096UL, 30000UL}) {
    for (int jump : {+5, +1, -1, -7}) {
      CAPTURE(at, jump);
      std::string text = "t,x\n";
      for (std::size_t k = 0; k < 40000; ++k) {
        text += fmt::format("{:.4f},0\n", static_cast<double>(static_cast<int>(k) + (k >= at ? jump : 0)) * 1e-3 + 1.0);
      }
      Error error = error_of_reading(write_file(folder / "spin.csv", text));
      CHECK(error.code() == "uneven_time");
      CHECK_THAT(error.what(), Catch::Contains(fmt::format("line {}:", at + 2)));
    }
  }
}

TEST_CASE("a slow clock is no unevenness, however long the table") {
  TemporaryFolder folder;
  // 0.1 ppm between the rate of the first rows and the rest grows to 0.2 of a sample in 2 million rows if it is not
  // followed; here the rounding of the first rows makes such an error, and 300 000 rows are enough to see it followed.
  auto path = write_file(folder / "spin.csv", timed(300000, 48000.0, 6));
  auto recording = open_recording(path);
  CHECK(read_all(*recording).size() == 600000);
}

TEST_CASE("edge times are read in order, those of one mark only if asked") {
  TemporaryFolder folder;
  auto path = write_file(folder / "tach.csv", "time_s,mark\n0.1,A\n0.2,B\n# pause\n0.3,A\n0.4,B");
  CHECK(read_times(path) == Samples{0.1, 0.2, 0.3, 0.4});
  CHECK(read_times(path, "B") == Samples{0.2, 0.4});
  CHECK(error_of([&] { read_times(path, "C"); }).code() == "no_data");
  CHECK(read_times(write_file(folder / "bare.csv", "0.5\n0.75\n")) == Samples{0.5, 0.75});
  CHECK(read_times(write_file(folder / "comma.csv", "mark;time (s)\nA;0,5\nA;0,75\n"), "A") == Samples{0.5, 0.75});
  CHECK(error_of([&] { read_times(write_file(folder / "back.csv", "0.5\n0.4\n")); }).code() == "not_increasing");
  CHECK(error_of([&] { read_times(write_file(folder / "twice.csv", "0.5\n0.5\n")); }).code() == "not_increasing");
  CHECK(error_of([&] { read_times(write_file(folder / "text.csv", "t\n0.5\nsoon\n")); }).code() == "bad_number");
  CHECK(error_of([&] { read_times(folder / "none.csv"); }).code() == "not_found");
}
