#include <fcntl.h>
#include <fmt/format.h>
#include <sndfile.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cmath>
#include <fstream>
#include <limits>
#include <system_error>

#include "counterspot/recording/capture.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

Error disk_trouble(const std::filesystem::path& path, const std::string& why) {
  return {Trouble::machine, "disk", fmt::format("{} cannot be written: {}", path.string(), why),
          "make room on the disk, or write somewhere else; what came before is in the file"};
}

/// Made here and by nobody before: what was recorded is never written over. @return its descriptor.
int new_file(const std::filesystem::path& path) {
  const int number = ::open(path.c_str(), O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
  if (number >= 0) return number;
  if (errno == EEXIST) {
    throw Error(Trouble::request, "file_exists", fmt::format("{}: there is such a file already", path.string()),
                "choose another name");
  }
  throw disk_trouble(path, std::generic_category().message(errno));
}

struct CloseWritten {
  void operator()(SNDFILE* file) const { sf_close(file); }
};

/// Container and sample type of libsndfile; 0: not a name for these values.
int written_format(const std::string& kind, const RecordingInfo& info) {
  auto holds = [&](std::string_view words) { return info.format.ends_with(words); };
  const int wide = holds("32-bit") ? SF_FORMAT_PCM_32 : holds("32-bit float") ? SF_FORMAT_FLOAT : SF_FORMAT_DOUBLE;
  const int type = holds("16-bit") ? SF_FORMAT_PCM_16 : holds("24-bit") ? SF_FORMAT_PCM_24 : wide;
  if (kind == ".flac") return SF_FORMAT_FLAC | (type == SF_FORMAT_PCM_16 ? SF_FORMAT_PCM_16 : SF_FORMAT_PCM_24);
  if (kind == ".w64") return SF_FORMAT_W64 | type;
  if (kind == ".rf64" || kind == ".wav") return SF_FORMAT_RF64 | type;
  return 0;
}

}  // namespace

struct RecordingWriter::File {
  std::filesystem::path path;
  std::size_t channels = 1;
  std::int64_t frames = 0;
  bool whole_numbers = true;
  std::unique_ptr<SNDFILE, CloseWritten> sound;
  std::ofstream table;
  std::vector<int> codes;

  void open_sound(const RecordingInfo& info, int format);
  void open_table(const RecordingInfo& info);
  void write_sound(std::span<const double> interleaved);
  void write_table(std::span<const double> interleaved);
};

void RecordingWriter::File::open_sound(const RecordingInfo& info, int format) {
  SF_INFO sound_info{};
  sound_info.samplerate = static_cast<int>(std::lround(info.sample_rate_Hz));
  sound_info.channels = static_cast<int>(channels);
  sound_info.format = format;
  sound.reset(sf_open_fd(new_file(path), SFM_WRITE, &sound_info, SF_TRUE));
  if (!sound) throw disk_trouble(path, sf_strerror(nullptr));
  const int type = format & SF_FORMAT_SUBMASK;
  whole_numbers = type != SF_FORMAT_FLOAT && type != SF_FORMAT_DOUBLE;
  sf_command(sound.get(), SFC_SET_UPDATE_HEADER_AUTO, nullptr, SF_TRUE);  // a cut recording stays readable
  if (path.extension() == ".wav") sf_command(sound.get(), SFC_RF64_AUTO_DOWNGRADE, nullptr, SF_TRUE);
}

void RecordingWriter::File::open_table(const RecordingInfo& info) {
  ::close(new_file(path));
  table.open(path, std::ios::binary);
  if (!table) throw disk_trouble(path, "it cannot be opened");
  std::string head;
  for (const ChannelInfo& channel : info.channels) {
    head += fmt::format("{}{}{}", head.empty() ? "" : ",", channel.name,
                        channel.unit.empty() ? "" : fmt::format(" ({})", channel.unit));
  }
  table << head << '\n';
}

void RecordingWriter::File::write_sound(std::span<const double> interleaved) {
  const auto wanted = static_cast<sf_count_t>(interleaved.size() / channels);
  sf_count_t written = 0;
  if (whole_numbers) {
    // Converter codes, left-justified in 32 bits: exact, whatever the library thinks that full scale is.
    codes.resize(interleaved.size());
    std::transform(interleaved.begin(), interleaved.end(), codes.begin(), [](double value) {
      return static_cast<int>(std::clamp(std::round(std::ldexp(value, 31)), -2147483648.0, 2147483647.0));
    });
    written = sf_writef_int(sound.get(), codes.data(), wanted);
  } else {
    written = sf_writef_double(sound.get(), interleaved.data(), wanted);
  }
  if (written != wanted) throw disk_trouble(path, sf_strerror(sound.get()));
}

void RecordingWriter::File::write_table(std::span<const double> interleaved) {
  std::string text;
  for (std::size_t i = 0; i < interleaved.size(); ++i)
    text += fmt::format("{}{}", interleaved[i], (i + 1) % channels == 0 ? "\n" : ",");
  if (!(table << text)) throw disk_trouble(path, "the disk is full");
}

RecordingWriter::RecordingWriter(const std::filesystem::path& path, const RecordingInfo& info)
    : file_(std::make_unique<File>()) {
  file_->path = path;
  file_->channels = info.channels.size();
  const std::string kind = path.extension().string();
  const int format = written_format(kind, info);
  if (info.full_scale && format != 0) {
    file_->open_sound(info, format);
  } else if (!info.full_scale && kind == ".csv") {
    file_->open_table(info);
  } else {
    throw Error(Trouble::request, "bad_recording_name",
                fmt::format("{} cannot hold what comes from {} ({})", path.string(), info.name, info.format),
                info.full_scale ? "end its name in .flac, .w64, .rf64 or .wav" : "end its name in .csv");
  }
}

RecordingWriter::RecordingWriter(RecordingWriter&&) noexcept = default;
RecordingWriter& RecordingWriter::operator=(RecordingWriter&&) noexcept = default;
RecordingWriter::~RecordingWriter() = default;

void RecordingWriter::write(std::span<const double> interleaved) {
  file_->sound ? file_->write_sound(interleaved) : file_->write_table(interleaved);
  file_->frames += static_cast<std::int64_t>(interleaved.size() / file_->channels);
}

std::int64_t RecordingWriter::frames() const {
  return file_->frames;
}

void RecordingWriter::close() {
  if (file_->table.is_open()) {
    file_->table.close();
    if (!file_->table) throw disk_trouble(file_->path, "the disk is full");
  }
  if (file_->sound && sf_close(file_->sound.release()) != 0) throw disk_trouble(file_->path, "the disk is full");
  const int number = ::open(file_->path.c_str(), O_RDONLY | O_CLOEXEC);
  const bool kept = number >= 0 && ::fsync(number) == 0;
  if (number >= 0) ::close(number);
  if (!kept) throw disk_trouble(file_->path, "the disk does not take it");
}

}  // namespace counterspot
