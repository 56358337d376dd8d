#include <fmt/format.h>
#include <sndfile.h>
#include <unistd.h>

#include <algorithm>
#include <cstring>
#include <exception>
#include <string>

#include "counterspot/units/error.hpp"
#include "recording/audio_header.hpp"
#include "recording/clones.hpp"
#include "recording/read_ahead.hpp"
#include "recording/readers.hpp"

namespace counterspot {

namespace {

constexpr std::size_t floats_at_once = 16384;        // stay in the processor's cache until they are used
constexpr sf_count_t endless = sf_count_t{1} << 60;  // what a pipe says its length is

/// A pipe in the shape libsndfile wants: it seeks about while it reads the header, then goes straight on. All that was
/// read while opening is kept, a jump ahead finds the end of the file, and where the recorder left the length open, the
/// header states one that no recording reaches. (A file whose length was left open is read in this way too.)
class PipeView {
 public:
  PipeView(ByteSource& source, std::optional<DataPart> data) : source_(source), kept_(source.head()) {
    std::vector<char> skipped(kept_.size());
    source_.read(skipped);
    if (data && !data->bytes && data->size_offset + 4 <= static_cast<std::int64_t>(kept_.size()))
      state_endless_length(static_cast<std::size_t>(data->size_offset));
  }

  void header_is_read() { opening_ = false; }
  void rethrow() const {
    if (trouble_) std::rethrow_exception(trouble_);
  }

  static SF_VIRTUAL_IO callbacks() {
    SF_VIRTUAL_IO io{};
    io.get_filelen = [](void*) { return endless; };
    io.seek = [](sf_count_t offset, int whence, void* view) { return self(view).seek(offset, whence); };
    io.read = [](void* bytes, sf_count_t count, void* view) {
      return self(view).read({static_cast<char*>(bytes), static_cast<std::size_t>(count)});
    };
    io.write = [](const void*, sf_count_t, void*) { return sf_count_t{0}; };
    io.tell = [](void* view) { return self(view).position_; };
    return io;
  }

 private:
  static PipeView& self(void* view) { return *static_cast<PipeView*>(view); }

  /// Turns the header of a WAV into that of an RF64 (EBU Tech 3306), whose chunk "ds64" has room for such a length, or
  /// fills in the chunk that an RF64 has.
  void state_endless_length(std::size_t size_offset) {
    constexpr sf_count_t bytes = endless / 2;
    std::string sizes;  // of the whole, of the data part, and in frames, which nobody needs
    for (sf_count_t value : {bytes, bytes, sf_count_t{0}}) {
      for (unsigned shift = 0; shift < 64; shift += 8) sizes += static_cast<char>(value >> shift & 0xFF);
    }
    kept_.replace(size_offset, 4, 4, '\xFF');
    if (kept_.starts_with("RF64") && kept_.compare(12, 4, "ds64") == 0) {
      kept_.replace(20, sizes.size(), sizes);
    } else if (kept_.starts_with("RIFF")) {
      kept_.replace(0, 8, "RF64\xFF\xFF\xFF\xFF");
      const std::string no_further_sizes(4, '\0');
      kept_.insert(12, std::string("ds64\x1C\0\0\0", 8) + sizes + no_further_sizes);
    }
  }

  sf_count_t seek(sf_count_t offset, int whence) {
    if (whence == SEEK_CUR) offset += position_;
    if (whence == SEEK_END) offset += endless;
    return position_ = offset;
  }

  sf_count_t read(std::span<char> bytes) {
    auto kept = static_cast<sf_count_t>(kept_.size());
    std::size_t done = 0;
    if (position_ < kept) {
      done = std::min(bytes.size(), static_cast<std::size_t>(kept - position_));
      std::memcpy(bytes.data(), kept_.data() + position_, done);
      position_ += static_cast<sf_count_t>(done);
    }
    if (done < bytes.size() && position_ == kept + streamed_) done += read_on(bytes.subspan(done));
    return static_cast<sf_count_t>(done);
  }

  std::size_t read_on(std::span<char> bytes) {
    std::size_t got = 0;
    try {
      got = source_.read(bytes);
    } catch (...) {  // not through C code
      trouble_ = std::current_exception();
    }
    if (opening_) {
      kept_.append(bytes.data(), got);
    } else {
      streamed_ += static_cast<sf_count_t>(got);
    }
    position_ += static_cast<sf_count_t>(got);
    return got;
  }

  ByteSource& source_;
  std::string kept_;
  sf_count_t position_ = 0;
  sf_count_t streamed_ = 0;  ///< bytes read on after those kept
  bool opening_ = true;
  std::exception_ptr trouble_;
};

/// Floats to doubles, four at a time, which the compiler does not find by itself.
COUNTERSPOT_CLONES
void widen(std::span<const float> narrow, double* wide) {
  using Floats = float __attribute__((vector_size(16)));
  using Doubles = double __attribute__((vector_size(32)));
  std::size_t n = 0;
  for (; n + 4 <= narrow.size(); n += 4) {
    Floats four;
    std::memcpy(&four, narrow.data() + n, sizeof four);
    const Doubles widened = __builtin_convertvector(four, Doubles);
    std::memcpy(wide + n, &widened, sizeof widened);
  }
  for (; n < narrow.size(); ++n) wide[n] = narrow[n];
}

struct CloseSound {
  void operator()(SNDFILE* file) const { sf_close(file); }
};

/// What a sample is stored as. Only what keeps every sample is taken: a compression made for the ear changes phases.
struct SampleType {
  const char* text;
  int bytes;
  bool fits_float;  ///< a float, with its 24 binary digits, holds every such sample
};
std::optional<SampleType> sample_type(int format) {
  switch (format & SF_FORMAT_SUBMASK) {
    case SF_FORMAT_PCM_S8:
    case SF_FORMAT_PCM_U8: return SampleType{"8-bit", 1, true};
    case SF_FORMAT_PCM_16: return SampleType{"16-bit", 2, true};
    case SF_FORMAT_PCM_24: return SampleType{"24-bit", 3, true};
    case SF_FORMAT_PCM_32: return SampleType{"32-bit", 4, false};
    case SF_FORMAT_FLOAT: return SampleType{"32-bit float", 4, true};
    case SF_FORMAT_DOUBLE: return SampleType{"64-bit float", 8, false};
    default: return std::nullopt;
  }
}

class AudioRecording final : public Recording {
 public:
  AudioRecording(ByteSource source, bool may_read_ahead);

  const RecordingInfo& info() const override { return info_; }
  std::size_t read(std::span<double> interleaved) override { return read_as(interleaved); }
  std::size_t read_floats(std::span<float> interleaved) override { return read_as(interleaved); }
  Warnings warnings() const override { return warnings_; }

 private:
  void open_sound(std::optional<DataPart> data, SF_INFO& sound);
  std::size_t samples_at_once() const;
  std::size_t fetch(std::span<float> samples);
  std::size_t decode(std::span<float> interleaved);
  std::size_t decode(std::span<double> interleaved);
  template <typename Sample>
  std::size_t read_as(std::span<Sample> interleaved);
  void compare_length(std::int64_t held_frames);
  void refuse_damage();
  bool is_cut_flac() const;
  [[noreturn]] void refuse_emptiness(std::int64_t bytes_there) const;

  ByteSource source_;
  std::unique_ptr<PipeView> pipe_;
  std::unique_ptr<SNDFILE, CloseSound> file_;
  RecordingInfo info_;
  std::vector<float> floats_;  ///< samples that fit into floats, before they are widened
  std::optional<std::int64_t> announced_frames_;
  std::int64_t frames_read_ = 0;
  bool ended_ = false;
  Warnings warnings_;
  std::optional<ReadAhead> ahead_;  // last: ends before what it reads from
};

AudioRecording::AudioRecording(ByteSource source, bool may_read_ahead) : source_(std::move(source)) {
  info_.name = source_.name();
  std::string format(audio_format(source_.head()));
  // A WAV or RF64 can be read straight from a pipe; the others are sought in while decoding.
  if (!source_.size() && format != "WAV" && format != "RF64") source_.spool();
  auto data = find_data_part(source_, format);
  SF_INFO sound{};
  open_sound(data, sound);
  auto type = sample_type(sound.format);
  if (!type) {
    throw Error(Trouble::recording, "bad_header",
                fmt::format("{} holds samples that are not plain 8, 16, 24 or 32-bit or float numbers", info_.name),
                "record without compression, as WAV or FLAC");
  }
  info_.format = fmt::format("{}, {}", format, type->text);
  info_.full_scale = true;
  info_.sample_rate_Hz = sound.samplerate;
  info_.fits_float = type->fits_float;
  for (int channel = 1; channel <= sound.channels; ++channel) info_.channels.push_back({std::to_string(channel), ""});
  // To decode the other formats takes no longer than to hand their samples from core to core.
  if (format == "FLAC" && type->fits_float && may_read_ahead && source_.size() && !pipe_)
    ahead_.emplace([this](std::span<float> samples) { return fetch(samples); }, samples_at_once());
  std::int64_t frame_bytes = std::int64_t{type->bytes} * sound.channels;
  if (data && data->bytes) announced_frames_ = *data->bytes / frame_bytes;
  if (format == "FLAC" && sound.frames < endless / 2) announced_frames_ = sound.frames;
  if (!source_.size()) return;
  const std::int64_t bytes_there = data ? *source_.size() - data->offset : 0;
  const bool left_open = format == "FLAC" && !announced_frames_;
  if (!left_open) info_.frames = pipe_ ? bytes_there / frame_bytes : sound.frames;
  if (left_open) return;
  if (format != "FLAC") {
    compare_length(*info_.frames);
    announced_frames_ = info_.frames;  // less may come, if the file shrinks while it is read
  }
  if (*info_.frames == 0) refuse_emptiness(bytes_there);
  if (pipe_) {
    warnings_.push_back({WarningCode::short_data, std::nullopt,
                         fmt::format("{} does not say how long it is, as if the recorder was cut off; the {} samples a "
                                     "channel that are there are used",
                                     info_.name, *info_.frames)});
  }
}

/// @param bytes_there behind the header.
void AudioRecording::refuse_emptiness(std::int64_t bytes_there) const {
  if (bytes_there > 0) {
    throw Error(
        Trouble::recording, "no_data",
        fmt::format("{} says that it holds no samples, and {} bytes follow its header", info_.name, bytes_there),
        "nothing is lost: have the length in its header put right, or record as WAV or RF64");
  }
  throw Error(Trouble::recording, "no_data", fmt::format("{} has a header and no samples", info_.name),
              "record the spin again, and stop the recorder before taking the file off it");
}

void AudioRecording::open_sound(std::optional<DataPart> data, SF_INFO& sound) {
  const bool left_open =
      data && !data->bytes && (source_.head().starts_with("RIFF") || source_.head().starts_with("RF64"));
  if (source_.size() && !left_open) {
    ::lseek(source_.descriptor(), 0, SEEK_SET);  // libsndfile takes the place it finds for the start of the file
    file_.reset(sf_open_fd(source_.descriptor(), SFM_READ, &sound, SF_FALSE));
  } else {
    pipe_ = std::make_unique<PipeView>(source_, data);
    SF_VIRTUAL_IO callbacks = PipeView::callbacks();
    file_.reset(sf_open_virtual(&callbacks, SFM_READ, &sound, pipe_.get()));
    pipe_->rethrow();
    pipe_->header_is_read();
  }
  if (!file_ || sound.channels < 1 || sound.samplerate < 1) {
    throw Error(Trouble::recording, "bad_header", fmt::format("the header of {} is damaged or cut short", info_.name),
                "copy the recording again from where it was made, or record the spin again");
  }
}

void AudioRecording::compare_length(std::int64_t held_frames) {
  if (!announced_frames_ || held_frames >= *announced_frames_) return;
  std::int64_t missing = *announced_frames_ - held_frames;
  if (missing > tolerated_missing_frames) {
    throw Error(
        Trouble::recording, "short_data",
        fmt::format("{} announces {} samples a channel and holds {}", info_.name, *announced_frames_, held_frames),
        "copy the recording again: this copy was cut off");
  }
  warnings_.push_back(
      {WarningCode::short_data, std::nullopt,
       fmt::format("{} holds {} samples a channel less than it announces; the rest is used", info_.name, missing)});
}

/// A FLAC that ends before its end, because the disk was full or the recorder died: its blocks stand by themselves, so
/// what came before is sound. All its bytes are used up then, while damage within it leaves some that are not.
bool AudioRecording::is_cut_flac() const {
  if (!info_.format.starts_with("FLAC") || !source_.size() || frames_read_ == 0) return false;
  const bool short_of_announced = announced_frames_ && frames_read_ < *announced_frames_;
  const bool ends_amid_block = !announced_frames_ && sf_error(file_.get()) != SF_ERR_NO_ERROR;
  return (short_of_announced || ends_amid_block) && ::lseek(source_.descriptor(), 0, SEEK_CUR) >= *source_.size();
}

/// At the end of what can be read.
void AudioRecording::refuse_damage() {
  if (is_cut_flac()) {
    warnings_.push_back({WarningCode::short_data, std::nullopt,
                         fmt::format("{} is cut off, as if the disk was full; the {} samples a channel before the cut "
                                     "are used",
                                     info_.name, frames_read_)});
    return;
  }
  compare_length(frames_read_);
  if (sf_error(file_.get()) == SF_ERR_NO_ERROR) return;
  throw Error(Trouble::recording, "unreadable", fmt::format("{} is damaged after sample {}", info_.name, frames_read_),
              "copy the recording again from where it was made, or record the spin again");
}

std::size_t items(sf_count_t got) {
  return static_cast<std::size_t>(std::max<sf_count_t>(0, got));
}

std::size_t AudioRecording::samples_at_once() const {
  const std::size_t channels = info_.channels.size();
  return std::max<std::size_t>(1, floats_at_once / channels) * channels;
}

std::size_t AudioRecording::fetch(std::span<float> samples) {
  return items(sf_read_float(file_.get(), samples.data(), static_cast<sf_count_t>(samples.size())));
}

std::size_t AudioRecording::decode(std::span<float> interleaved) {
  if (!ahead_) return fetch(interleaved);
  std::size_t done = 0;
  while (done < interleaved.size()) {
    const auto part = ahead_->next(interleaved.size() - done);
    if (part.empty()) break;
    std::copy(part.begin(), part.end(), interleaved.begin() + static_cast<std::ptrdiff_t>(done));
    done += part.size();
  }
  return done;
}

/// Samples that fit into floats are fetched as such, in pieces that stay in the processor's cache, and widened here:
/// libsndfile would fetch doubles 2048 at a time.
std::size_t AudioRecording::decode(std::span<double> interleaved) {
  if (!info_.fits_float)
    return items(sf_read_double(file_.get(), interleaved.data(), static_cast<sf_count_t>(interleaved.size())));
  if (!ahead_) floats_.resize(samples_at_once());
  std::size_t done = 0;
  for (bool ended = false; done < interleaved.size() && !ended;) {
    const std::size_t left = interleaved.size() - done;
    const std::span<float> own(floats_.data(), std::min(floats_.size(), left));
    const std::span<const float> part = ahead_ ? ahead_->next(left) : own.first(fetch(own));
    widen(part, interleaved.data() + done);
    done += part.size();
    ended = ahead_ ? part.empty() : part.size() < own.size();  // asked once more, libsndfile may call the end an error
  }
  return done;
}

template <typename Sample>
std::size_t AudioRecording::read_as(std::span<Sample> interleaved) {
  const std::size_t channels = info_.channels.size();
  const std::size_t frames = interleaved.size() / channels;
  if (ended_ || frames == 0) return 0;
  const std::size_t got = decode(interleaved.first(frames * channels)) / channels;
  if (pipe_) pipe_->rethrow();
  frames_read_ += static_cast<std::int64_t>(got);
  if (got < frames) {
    ended_ = true;
    refuse_damage();
    if (frames_read_ == 0) {
      throw Error(Trouble::recording, "no_data", fmt::format("{} has a header and no samples", info_.name),
                  "check the program that writes to the pipe");
    }
  }
  return got;
}

}  // namespace

std::string_view audio_format(std::string_view head) {
  auto at = [&](std::size_t offset, std::string_view text) {
    return head.substr(std::min(offset, head.size())).starts_with(text);
  };
  if ((at(0, "RIFF") || at(0, "RIFX")) && at(8, "WAVE")) return "WAV";
  if (at(0, "RF64") && at(8, "WAVE")) return "RF64";
  if (at(0, std::string_view("riff\x2E\x91\xCF\x11", 8))) return "W64";
  if (at(0, "FORM") && (at(8, "AIFF") || at(8, "AIFC"))) return "AIFF";
  if (at(0, "fLaC")) return "FLAC";
  return {};
}

std::unique_ptr<Recording> open_audio(ByteSource source, bool may_read_ahead) {
  return std::make_unique<AudioRecording>(std::move(source), may_read_ahead);
}

}  // namespace counterspot
