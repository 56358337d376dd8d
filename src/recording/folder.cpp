#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>

#include "counterspot/recording/recording_names.hpp"
#include "counterspot/units/error.hpp"
#include "recording/lined_up.hpp"
#include "recording/readers.hpp"

namespace counterspot {

namespace {

namespace fs = std::filesystem;

std::vector<fs::path> files_of_channels(const fs::path& folder) {
  std::vector<fs::path> files = recordings_in(folder);
  if (!files.empty()) return files;
  throw Error(Trouble::recording, "unreadable",
              fmt::format("{} is a folder without a recording in it", folder.string()),
              "name a recording, or a folder that holds a file for each channel, as a.wav, b.wav and tach.wav");
}

/// Files of one spin, each with some of the channels: recorded by one clock, or each with the tach. A channel is called
/// like its file; where a file has several, their names or numbers stand behind that.
class FolderRecording final : public Recording {
 public:
  FolderRecording(const fs::path& folder, const RecordingOptions& options) {
    info_.name = folder.string();
    RecordingOptions of_file = options;
    of_file.named.clear();
    of_file.tach.clear();
    const std::vector<fs::path> files = files_of_channels(folder);
    for (const fs::path& file : files) {
      parts_.push_back({open_recording(file, of_file), {}});
      add_channels(file.stem().string(), parts_.back().recording->info());
    }
    const RecordingInfo& first = parts_.front().recording->info();
    info_.format = fmt::format("{} files, the first {}", parts_.size(), first.format);
    info_.full_scale = first.full_scale;
    info_.sample_rate_Hz = first.sample_rate_Hz;
    info_.start_time_s = first.start_time_s;
    info_.rate_is_stated = first.rate_is_stated;
    if (const auto tach = tach_of_each(options)) {
      line_up_by(*tach, files, of_file);
    } else {
      for (const Part& part : parts_) check_clock(part.recording->info());
    }
  }

  const RecordingInfo& info() const override { return info_; }

  std::size_t read(std::span<double> interleaved) override {
    const std::size_t channels = info_.channels.size();
    const std::size_t frames = interleaved.size() / channels;
    if (ended_) return 0;
    std::size_t common = frames;
    for (Part& part : parts_) {
      const std::size_t of_part = part.recording->info().channels.size();
      part.block.resize(frames * of_part);
      part.got = part.recording->read(part.block);
      common = std::min(common, part.got);
    }
    std::size_t at = 0;
    for (const Part& part : parts_) {
      const std::size_t of_part = part.recording->info().channels.size();
      for (std::size_t k = 0; k < common; ++k)
        std::copy_n(part.block.begin() + static_cast<std::ptrdiff_t>(k * of_part), of_part,
                    interleaved.begin() + static_cast<std::ptrdiff_t>(k * channels + at));
      at += of_part;
    }
    frames_read_ += static_cast<std::int64_t>(common);
    ended_ = common < frames;
    if (ended_ && of_one_clock_) compare_ends(common);
    return common;
  }

  Warnings warnings() const override {
    Warnings all = warnings_;
    for (const Part& part : parts_) {
      const Warnings of_part = part.recording->warnings();
      all.insert(all.end(), of_part.begin(), of_part.end());
    }
    return all;
  }

 private:
  struct Part {
    std::unique_ptr<Recording> recording;
    std::vector<double> block;
    std::size_t got = 0;
  };

  void add_channels(const std::string& stem, const RecordingInfo& part) {
    const bool alone = part.channels.size() == 1;
    for (const ChannelInfo& channel : part.channels) {
      const std::string name = alone ? stem : fmt::format("{} {}", stem, channel.name);
      info_.channels.push_back({name, channel.unit, name});
      info_.taken.push_back({fmt::format("channel {} '{}'", info_.channels.size(), name), "from " + part.name, ""});
    }
  }

  /// The tach's channel in each file, where the rig gives a number and every file has so many channels.
  std::optional<std::size_t> tach_of_each(const RecordingOptions& options) const {
    std::size_t number = 0;
    const char* const end = options.tach.data() + options.tach.size();
    if (std::from_chars(options.tach.data(), end, number).ptr != end || number == 0 || parts_.size() < 2) return {};
    const bool all = std::all_of(parts_.begin(), parts_.end(), [&](const Part& part) {
      return part.recording->info().channels.size() >= std::max<std::size_t>(number, 2);
    });
    return all ? std::optional(number - 1) : std::nullopt;
  }

  /// Recorders that know nothing of each other, with the same tach on each: told apart by their clocks, brought to that
  /// of the first.
  void line_up_by(std::size_t tach, const std::vector<fs::path>& files, const RecordingOptions& options) {
    const std::vector<double> edges = rises_of(files[0], options, tach);
    std::vector<ClockLine> lines(files.size());
    std::int64_t begin = 0;
    for (std::size_t i = 1; i < files.size(); ++i) {
      const RecordingInfo& part = parts_[i].recording->info();
      if (part.full_scale != info_.full_scale) refuse_pair(part, "are a sound file and a table of numbers");
      const auto line = line_up(rises_of(files[i], options, tach), edges, part.sample_rate_Hz / info_.sample_rate_Hz);
      if (!line) refuse_pair(part, "have no eight turns in common by their tachs, or are of two spins");
      lines[i] = *line;
      begin = std::max(begin, static_cast<std::int64_t>(std::ceil(-line->offset / line->rate)));
    }
    for (std::size_t i = 1; i < files.size(); ++i) {
      parts_[i].recording = lined_up(std::move(parts_[i].recording), lines[i], begin);
      info_.taken.push_back(
          {parts_[i].recording->info().name,
           fmt::format("lined up by its tach; its clock runs {:+.0f} ppm by that of the first",
                       1e6 * (lines[i].rate * info_.sample_rate_Hz / parts_[i].recording->info().sample_rate_Hz - 1.0)),
           ""});
    }
    for (auto left = static_cast<std::size_t>(begin); left > 0;) {
      const std::size_t got = parts_[0].recording->next(left).size() / parts_[0].recording->info().channels.size();
      if (got == 0) break;
      left -= got;
    }
    of_one_clock_ = false;
  }

  [[noreturn]] void refuse_pair(const RecordingInfo& part, const std::string& what) const {
    throw Error(Trouble::recording, "not_one_clock",
                fmt::format("{} and {} {}", parts_.front().recording->info().name, part.name, what),
                "put only files of one spin into the folder, from one recorder or with the same tach in each");
  }

  void check_clock(const RecordingInfo& part) const {
    const RecordingInfo& first = parts_.front().recording->info();
    if (part.full_scale != first.full_scale) refuse_pair(part, "are a sound file and a table of numbers");
    if (std::abs(part.sample_rate_Hz - first.sample_rate_Hz) > 1e-9 * first.sample_rate_Hz)
      refuse_pair(part, fmt::format("have {} and {} samples per second", first.sample_rate_Hz, part.sample_rate_Hz));
    if (std::abs(part.start_time_s - first.start_time_s) > 0.1 / first.sample_rate_Hz)
      refuse_pair(part, fmt::format("begin at {} s and {} s", first.start_time_s, part.start_time_s));
  }

  /// Recorders may stop their files some samples apart, but not more than that.
  void compare_ends(std::size_t common) {
    std::int64_t most_left = 0;
    for (Part& part : parts_) {
      const std::size_t channels = part.recording->info().channels.size();
      part.block.resize((tolerated_missing_frames + 1) * channels);
      const std::size_t left = part.got - common + part.recording->read(part.block);
      most_left = std::max(most_left, static_cast<std::int64_t>(left));
    }
    if (most_left > tolerated_missing_frames) {
      throw Error(Trouble::recording, "not_one_clock",
                  fmt::format("{}: the shortest file ends at sample {}, and another goes on", info_.name, frames_read_),
                  "put only files of one spin into the folder, started and stopped together");
    }
    if (most_left > 0)
      warnings_.push_back(
          {WarningCode::short_data, std::nullopt,
           fmt::format("{}: the files end up to {} samples apart; what all have is used", info_.name, most_left)});
  }

  RecordingInfo info_;
  std::vector<Part> parts_;
  std::int64_t frames_read_ = 0;
  bool ended_ = false;
  bool of_one_clock_ = true;  ///< then the files end together too
  Warnings warnings_;
};

}  // namespace

std::unique_ptr<Recording> open_folder(const fs::path& folder, const RecordingOptions& options) {
  return std::make_unique<FolderRecording>(folder, options);
}

}  // namespace counterspot
