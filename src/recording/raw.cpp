#include <fcntl.h>
#include <fmt/format.h>
#include <poll.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <bit>
#include <cerrno>
#include <chrono>
#include <cmath>
#include <cstring>
#include <system_error>
#include <thread>

#include "counterspot/units/error.hpp"
#include "recording/byte_source.hpp"
#include "recording/live_reader.hpp"

namespace counterspot {

namespace {

struct FormatName {
  RawFormat format;
  const char* name;
  const char* words;
  std::size_t bytes;
};
constexpr std::array<FormatName, 4> formats = {{{RawFormat::s16le, "s16le", "16-bit", 2},
                                                {RawFormat::s24le, "s24le", "24-bit", 3},
                                                {RawFormat::s32le, "s32le", "32-bit", 4},
                                                {RawFormat::f32le, "f32le", "32-bit float", 4}}};

const FormatName& row_of(RawFormat format) {
  return formats.at(static_cast<std::size_t>(format));
}

double sample_of(const char* bytes, RawFormat format) {
  std::uint32_t code = 0;
  const std::size_t size = row_of(format).bytes;
  for (std::size_t i = 0; i < size; ++i)
    code |= static_cast<std::uint32_t>(static_cast<unsigned char>(bytes[i])) << (8 * i);
  if (format == RawFormat::f32le) return static_cast<double>(std::bit_cast<float>(code));
  const auto left_justified = static_cast<std::int32_t>(code << (32 - 8 * size));
  return std::ldexp(static_cast<double>(left_justified), -31);
}

/// Samples without a header, as they come in.
class RawReader final : public LiveReader {
 public:
  RawReader(const std::string& path, const LiveOptions& options)
      : format_(options.format.value_or(RawFormat::s32le)),
        info_(raw_info(path == "-" ? "standard input" : path, "raw", format_, options)),
        frame_bytes_(bytes_of(format_) * info_.channels.size()) {
    open(path);
  }

  const RecordingInfo& info() const override { return info_; }

  std::size_t read(std::span<double> interleaved, const std::stop_token& stop) override {
    lost_ = false;
    const std::size_t wanted = interleaved.size() / info_.channels.size() * frame_bytes_;
    while (!stop.stop_requested()) {
      if (held_ >= frame_bytes_) return hand_out(interleaved);
      bytes_.resize(wanted);
      if (!wait_for_more()) continue;
      const ssize_t got = ::read(descriptor_.number(), bytes_.data() + held_, wanted - held_);
      if (got > 0) held_ += static_cast<std::size_t>(got);
      if (got < 0 && errno != EINTR && errno != EAGAIN) {
        throw Error(Trouble::machine, "read_failed",
                    fmt::format("{} cannot be read: {}", info_.name, std::generic_category().message(errno)),
                    "look at the program that writes to it");
      }
      if (got == 0 && !writer_went()) return 0;
    }
    return 0;
  }

  bool lost_some(std::optional<std::int64_t>& frames) override {
    frames.reset();
    return lost_;
  }

 private:
  void open(const std::string& path) {
    if (path == "-") {
      descriptor_ = Descriptor(0);
      return;
    }
    // A named pipe is opened before anybody writes to it, and stays when they go.
    descriptor_ = Descriptor(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK));
    struct stat status {};
    if (descriptor_.number() < 0 || ::fstat(descriptor_.number(), &status) != 0 || S_ISDIR(status.st_mode)) {
      throw Error(Trouble::recording, "not_found", fmt::format("{} cannot be opened for live samples", path),
                  "make the pipe with mkfifo, or check its name");
    }
    named_pipe_ = S_ISFIFO(status.st_mode);
  }

  bool wait_for_more() {
    pollfd wanted{descriptor_.number(), POLLIN, 0};
    return ::poll(&wanted, 1, look_up_ms) > 0;
  }

  /// True if a writer may come back. Half a frame that it left behind belongs to nothing.
  bool writer_went() {
    if (!named_pipe_) return false;
    if (seen_any_) went_ = true;
    held_ = 0;
    std::this_thread::sleep_for(std::chrono::milliseconds(look_up_ms / 5));
    return true;
  }

  std::size_t hand_out(std::span<double> interleaved) {
    const std::size_t frames = held_ / frame_bytes_;
    const std::size_t used = frames * frame_bytes_;
    decode_raw({bytes_.data(), used}, format_, interleaved.first(frames * info_.channels.size()));
    std::memmove(bytes_.data(), bytes_.data() + used, held_ - used);
    held_ -= used;
    lost_ = went_;
    went_ = false;
    seen_any_ = true;
    return frames;
  }

  RawFormat format_;
  RecordingInfo info_;
  std::size_t frame_bytes_;
  Descriptor descriptor_;
  bool named_pipe_ = false;
  std::vector<char> bytes_;
  std::size_t held_ = 0;
  bool seen_any_ = false;
  bool went_ = false;  // the writer went away after samples had come
  bool lost_ = false;
};

}  // namespace

RawFormat raw_format_named(const std::string& name) {
  for (const FormatName& row : formats)
    if (name == row.name) return row.format;
  throw Error(Trouble::request, "bad_raw_format", fmt::format("'{}' is no format of raw samples", name),
              "write s16le, s24le, s32le or f32le");
}

std::string_view raw_format_name(RawFormat format) {
  return row_of(format).name;
}

std::size_t bytes_of(RawFormat format) {
  return row_of(format).bytes;
}

std::string_view raw_format_words(RawFormat format) {
  return row_of(format).words;
}

void decode_raw(std::span<const char> bytes, RawFormat format, std::span<double> samples) {
  const std::size_t size = row_of(format).bytes;
  for (std::size_t i = 0; i < samples.size(); ++i) samples[i] = sample_of(bytes.data() + i * size, format);
}

RecordingInfo raw_info(const std::string& name, const std::string& kind, RawFormat format, const LiveOptions& options) {
  RecordingInfo info;
  info.name = name;
  info.format = fmt::format("{}, {}", kind, raw_format_words(format));
  info.full_scale = true;
  info.sample_rate_Hz = options.sample_rate_Hz;
  for (int channel = 1; channel <= options.channels; ++channel) info.channels.push_back({std::to_string(channel), ""});
  return info;
}

std::unique_ptr<LiveReader> open_raw(const std::string& path, const LiveOptions& options) {
  return std::make_unique<RawReader>(path, options);
}

}  // namespace counterspot
