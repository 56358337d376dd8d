#include <rapidcheck.h>
#include <sndfile.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <memory>

#include "recording_support.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

struct Format {
  const char* text;
  int format;
  double step;  ///< of its quantisation, as a fraction of full scale
};
// Linear PCM: n bits have a step of 2^(1-n) of full scale; a float has 24 bits of significand.
const Format formats[] = {
    {"WAV, 8-bit", SF_FORMAT_WAV | SF_FORMAT_PCM_U8, 0x1p-7},
    {"WAV, 16-bit", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 0x1p-15},
    {"WAV, 24-bit", SF_FORMAT_WAV | SF_FORMAT_PCM_24, 0x1p-23},
    {"WAV, 24-bit", SF_FORMAT_WAVEX | SF_FORMAT_PCM_24, 0x1p-23},
    {"WAV, 32-bit", SF_FORMAT_WAV | SF_FORMAT_PCM_32, 0x1p-31},
    {"WAV, 32-bit float", SF_FORMAT_WAV | SF_FORMAT_FLOAT, 0x1p-24},
    {"WAV, 64-bit float", SF_FORMAT_WAV | SF_FORMAT_DOUBLE, 0.0},
    {"WAV, 16-bit", SF_FORMAT_WAV | SF_FORMAT_PCM_16 | SF_ENDIAN_BIG, 0x1p-15},
    {"RF64, 24-bit", SF_FORMAT_RF64 | SF_FORMAT_PCM_24, 0x1p-23},
    {"RF64, 32-bit float", SF_FORMAT_RF64 | SF_FORMAT_FLOAT, 0x1p-24},
    {"W64, 24-bit", SF_FORMAT_W64 | SF_FORMAT_PCM_24, 0x1p-23},
    {"W64, 64-bit float", SF_FORMAT_W64 | SF_FORMAT_DOUBLE, 0.0},
    {"AIFF, 8-bit", SF_FORMAT_AIFF | SF_FORMAT_PCM_S8, 0x1p-7},
    {"AIFF, 16-bit", SF_FORMAT_AIFF | SF_FORMAT_PCM_16, 0x1p-15},
    {"AIFF, 32-bit float", SF_FORMAT_AIFF | SF_FORMAT_FLOAT, 0x1p-24},
    {"FLAC, 8-bit", SF_FORMAT_FLAC | SF_FORMAT_PCM_S8, 0x1p-7},
    {"FLAC, 16-bit", SF_FORMAT_FLAC | SF_FORMAT_PCM_16, 0x1p-15},
    {"FLAC, 24-bit", SF_FORMAT_FLAC | SF_FORMAT_PCM_24, 0x1p-23},
};

// Half a step of rounding; and libsndfile's writer maps 1.0 to the largest code, one step less than full scale, which
// makes 0.7 of a step at the largest sample here. The reader is right: full scale is 2^(n-1) steps.
constexpr double writer_error_steps = 0.5 + 0.7;

constexpr int channels = 3;
constexpr std::size_t frames = 30000;  // several pieces ahead, and no multiple of one

std::vector<double> signal() {
  std::vector<double> samples(frames * channels);
  for (std::size_t i = 0; i < samples.size(); ++i)
    samples[i] = 0.7 * std::sin(0.01 * static_cast<double>(i * i % 9973));
  return samples;
}

double largest_difference(const std::vector<double>& one, const std::vector<double>& other) {
  REQUIRE(one.size() == other.size());
  double largest = 0.0;
  for (std::size_t i = 0; i < one.size(); ++i) largest = std::max(largest, std::abs(one[i] - other[i]));
  return largest;
}

/// Sets the 64-bit sizes in the chunk "ds64" of an RF64 to zero, where a recorder leaves them until it is stopped.
std::string without_sizes(std::string rf64) {
  const auto at = rf64.find("ds64") + 8;
  return rf64.replace(at, 24, 24, '\0');
}

/// Sets the 32-bit size of a WAV's data part, and of the whole, to a value.
std::string with_sizes(std::string wav, std::uint32_t size) {
  auto at = wav.find("data") + 4;
  for (std::size_t offset : {at, std::size_t{4}}) {
    for (std::size_t i = 0; i < 4; ++i) wav[offset + i] = static_cast<char>(size >> (8 * i) & 0xFFU);
  }
  return wav;
}

}  // namespace

TEST_CASE("every format gives back what was recorded, within its quantisation") {
  TemporaryFolder folder;
  const auto recorded = signal();
  for (const Format& format : formats) {
    CAPTURE(format.text);
    write_sound(folder / "spin", format.format, channels, recorded);
    auto recording = open_recording(folder / "spin");
    CHECK(recording->info().format == format.text);
    CHECK(recording->info().sample_rate_Hz == 51200.0);
    CHECK(recording->info().full_scale);
    CHECK(recording->info().channels.size() == channels);
    CHECK(recording->info().channels[2].name == "3");
    CHECK(recording->info().frames == std::int64_t{frames});
    CHECK(largest_difference(read_all(*recording), recorded) <= writer_error_steps * format.step);
    CHECK(recording->warnings().empty());
  }
}

TEST_CASE("every format is the same from a pipe as from its file") {
  TemporaryFolder folder;
  for (const Format& format : formats) {
    CAPTURE(format.text);
    write_sound(folder / "spin", format.format, channels, signal());
    const auto from_file = read_all(folder / "spin");
    PipedInput input(read_file(folder / "spin"));
    auto piped = open_recording("-");
    CHECK(piped->info().name == "standard input");
    CHECK(piped->info().format == format.text);
    CHECK(read_all(*piped) == from_file);
  }
}

TEST_CASE("a recorder that writes to a pipe may leave the length open") {
  TemporaryFolder folder;
  write_sound(folder / "spin.wav", SF_FORMAT_WAV | SF_FORMAT_FLOAT, channels, signal());
  const auto samples = read_all(folder / "spin.wav");
  const std::string wav = read_file(folder / "spin.wav");
  for (std::uint32_t open_length : {0U, 0xFFFFFFFFU, 0x7FFFF000U, 0x7FFFFFFFU}) {
    CAPTURE(open_length);
    {
      PipedInput input(with_sizes(wav, open_length));
      auto piped = open_recording("-");
      CHECK(read_all(*piped) == samples);
      CHECK(piped->warnings().empty());
    }
    write_file(folder / "open.wav", with_sizes(wav, open_length));
    CHECK(read_all(folder / "open.wav") == samples);
  }
}

TEST_CASE("a recorder that was cut off leaves no length, and what it wrote is used with a warning") {
  TemporaryFolder folder;
  write_sound(folder / "spin.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_24, channels, signal());
  write_sound(folder / "spin.rf64", SF_FORMAT_RF64 | SF_FORMAT_PCM_24, channels, signal());
  const auto samples = read_all(folder / "spin.wav");
  const std::string rf64 = without_sizes(read_file(folder / "spin.rf64"));
  for (const std::string& cut_off : {with_sizes(read_file(folder / "spin.wav"), 0), rf64}) {
    write_file(folder / "cut-off", cut_off);
    auto recording = open_recording(folder / "cut-off");
    CHECK(recording->info().frames == std::int64_t{frames});
    CHECK(read_all(*recording) == samples);
    REQUIRE(recording->warnings().size() == 1);
    CHECK(recording->warnings()[0].code == WarningCode::short_data);
  }
  PipedInput input(rf64);
  CHECK(read_all("-") == samples);
}

// libsndfile's own conversion to doubles is the peer.
TEST_CASE("every sample is the double that libsndfile makes of it, however far it is read ahead") {
  TemporaryFolder folder;
  std::vector<double> samples;
  for (int i = 0; i < 4; ++i) {
    const auto part = signal();
    samples.insert(samples.end(), part.begin(), part.end());
  }
  for (const Format& format : formats) {
    CAPTURE(format.text);
    write_sound(folder / "spin", format.format, channels, samples);
    SF_INFO info{};
    const std::unique_ptr<SNDFILE, decltype(&sf_close)> peer(sf_open((folder / "spin").c_str(), SFM_READ, &info),
                                                             sf_close);
    std::vector<double> expected(samples.size());
    REQUIRE(sf_read_double(peer.get(), expected.data(), std::ssize(expected)) == std::ssize(expected));
    CHECK(read_all(folder / "spin") == expected);
  }
}

TEST_CASE("samples of up to 24 bits are the same as floats, and nothing else says that it fits them") {
  TemporaryFolder folder;
  for (const Format& format : formats) {
    CAPTURE(format.text);
    write_sound(folder / "spin", format.format, channels, signal());
    const auto as_doubles = read_all(folder / "spin");
    const auto recording = open_recording(folder / "spin");
    CHECK(recording->info().fits_float == (format.step >= 0x1p-24));
    std::vector<float> block(1234 * channels);
    std::vector<double> as_floats(100 * channels);
    REQUIRE(recording->read(as_floats) == 100);  // either may follow the other
    const std::size_t first_float = as_floats.size();
    while (const std::size_t got = recording->read_floats(block))
      as_floats.insert(as_floats.end(), block.begin(), block.begin() + static_cast<std::ptrdiff_t>(got * channels));
    REQUIRE(as_floats.size() == as_doubles.size());
    for (std::size_t i = 0; i < as_floats.size(); ++i)
      if (as_floats[i] !=
          (i < first_float || recording->info().fits_float ? as_doubles[i] : static_cast<float>(as_doubles[i])))
        FAIL_CHECK("sample " << i);
  }
}

TEST_CASE("how the samples are split into blocks does not matter, read ahead or not") {
  TemporaryFolder folder;
  write_sound(folder / "spin.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_24, channels, signal());
  write_sound(folder / "spin.flac", SF_FORMAT_FLAC | SF_FORMAT_PCM_24, channels, signal());
  const auto whole = read_all(folder / "spin.wav");
  CHECK(rc::check([&] {
    auto sizes =
        *rc::gen::nonEmpty(rc::gen::container<std::vector<std::size_t>>(rc::gen::inRange<std::size_t>(1, 20000)));
    RecordingOptions options;
    options.read_ahead = *rc::gen::arbitrary<bool>();
    auto recording = open_recording(folder / *rc::gen::element("spin.wav", "spin.flac"), options);
    RC_ASSERT(read_all(*recording, sizes) == whole);
  }));
}

TEST_CASE("blocks read in place are the blocks read by copy") {
  TemporaryFolder folder;
  write_sound(folder / "spin.flac", SF_FORMAT_FLAC | SF_FORMAT_PCM_24, channels, signal());
  const auto whole = read_all(folder / "spin.flac");
  for (bool ahead : {true, false}) {
    RecordingOptions options;
    options.read_ahead = ahead;
    auto recording = open_recording(folder / "spin.flac", options);
    std::vector<double> all(300 * channels);
    CHECK(recording->read(all) == 300);
    for (auto block = recording->next(777); !block.empty(); block = recording->next(777)) {
      CHECK(block.size() <= 777 * channels);
      all.insert(all.end(), block.begin(), block.end());
    }
    CHECK(all == whole);
    CHECK(recording->next(777).empty());
    CHECK(recording->read(all) == 0);
  }
}

TEST_CASE("a recording that lost more than a block is refused, one that lost less is used with a warning") {
  TemporaryFolder folder;
  write_sound(folder / "spin.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, channels, signal());
  const std::string wav = read_file(folder / "spin.wav");
  const std::size_t frame_bytes = 2 * channels;
  const std::string a_little_less = wav.substr(0, wav.size() - 4096 * frame_bytes);
  const std::string a_lot_less = wav.substr(0, wav.size() - 4097 * frame_bytes);

  write_file(folder / "less.wav", a_little_less);
  auto recording = open_recording(folder / "less.wav");
  CHECK(read_all(*recording).size() == (frames - 4096) * channels);
  REQUIRE(recording->warnings().size() == 1);
  CHECK(recording->warnings()[0].code == WarningCode::short_data);

  write_file(folder / "cut.wav", a_lot_less);
  CHECK(error_of_reading(folder / "cut.wav").code() == "short_data");
  {
    PipedInput input(a_little_less);
    auto piped = open_recording("-");
    CHECK(read_all(*piped).size() == (frames - 4096) * channels);
    CHECK(piped->warnings().size() == 1);
  }
  PipedInput input(a_lot_less);
  CHECK(error_of_reading("-").code() == "short_data");
}

TEST_CASE("of a FLAC that a full disk cut off, what came before the cut is used with a warning") {
  TemporaryFolder folder;
  write_sound(folder / "spin.flac", SF_FORMAT_FLAC | SF_FORMAT_PCM_16, channels, signal());
  const std::vector<double> whole = read_all(folder / "spin.flac");
  std::string flac = read_file(folder / "spin.flac");
  for (const bool length_known : {true, false}) {
    // total samples: the low 36 of the 64 bits at byte 18 (STREAMINFO, RFC 9639, 8.2); 0 if the recorder never ended
    if (!length_known) flac.replace(22, 4, 4, '\0')[21] &= '\xF0';
    for (const double share : {0.3, 0.5, 0.77, 0.98}) {
      CAPTURE(length_known, share);
      write_file(folder / "cut.flac",
                 flac.substr(0, static_cast<std::size_t>(share * static_cast<double>(flac.size()))));
      for (const bool read_ahead : {true, false}) {
        RecordingOptions options;
        options.read_ahead = read_ahead;
        auto recording = open_recording(folder / "cut.flac", options);
        const std::vector<double> used = read_all(*recording);
        CHECK(static_cast<double>(used.size()) > (share - 0.35) * static_cast<double>(whole.size()));
        REQUIRE(used.size() < whole.size());
        CHECK(std::equal(used.begin(), used.end(), whole.begin()));
        REQUIRE(recording->warnings().size() == 1);
        CHECK(recording->warnings()[0].code == WarningCode::short_data);
      }
    }
  }
}

TEST_CASE("a FLAC that is damaged in its middle is refused") {
  TemporaryFolder folder;
  write_sound(folder / "spin.flac", SF_FORMAT_FLAC | SF_FORMAT_PCM_16, channels, signal());
  std::string flac = read_file(folder / "spin.flac");
  flac.replace(flac.size() / 2, 9000, 9000, '\x55');
  write_file(folder / "damaged.flac", flac);
  CHECK_THROWS_AS(read_all(folder / "damaged.flac"), Error);
}

TEST_CASE("a float recording may go beyond full scale, and keeps infinities for the measurement to refuse") {
  TemporaryFolder folder;
  write_sound(folder / "spin.wav", SF_FORMAT_WAV | SF_FORMAT_FLOAT, 1, {0.5, 1.5, -3.0, HUGE_VAL});
  CHECK(read_all(folder / "spin.wav") == std::vector<double>{0.5, 1.5, -3.0, HUGE_VAL});
}

TEST_CASE("the name of a file says nothing about its format") {
  TemporaryFolder folder;
  write_sound(folder / "spin.csv", SF_FORMAT_FLAC | SF_FORMAT_PCM_16, 1, {0.5, -0.5});
  CHECK(open_recording(folder / "spin.csv")->info().format == "FLAC, 16-bit");
  write_file(folder / "spin.wav", "time,x\n0,1\n1,2\n");
  CHECK(open_recording(folder / "spin.wav")->info().format == "CSV, ',' separated, decimal point");
}

TEST_CASE("a compression made for the ear is refused, for it moves phases") {
  TemporaryFolder folder;
  for (int format : {SF_FORMAT_WAV | SF_FORMAT_ULAW, SF_FORMAT_WAV | SF_FORMAT_IMA_ADPCM}) {
    write_sound(folder / "spin.wav", format, 1, std::vector<double>(5000, 0.25));
    CHECK(error_of_reading(folder / "spin.wav").code() == "bad_header");
  }
}

TEST_CASE("a recording that is opened and put away unread ends its second thread") {
  TemporaryFolder folder;
  write_sound(folder / "spin.flac", SF_FORMAT_FLAC | SF_FORMAT_PCM_24, channels, signal());
  for (std::size_t frames_read : {std::size_t{0}, std::size_t{1}, std::size_t{20000}}) {
    auto recording = open_recording(folder / "spin.flac");
    std::vector<double> block(frames_read * channels);
    CHECK(recording->read(block) == frames_read);
  }
}
