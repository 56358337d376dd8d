#include "commands/recorded_step.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <span>
#include <vector>

#include "commands/output.hpp"
#include "commands/shop.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/guide/rig_setup_guide.hpp"
#include "counterspot/units/error.hpp"
#include "report/sound_devices.hpp"

namespace counterspot::commands {

namespace {

/// Bars at a terminal while a step is recorded, five times a second: whether a knock is seen, and nothing is cut off.
class ShownLevels {
 public:
  explicit ShownLevels(const RecordingInfo& info)
      : peaks_(info.channels.size()),
        samples_a_bar_(static_cast<std::size_t>(info.sample_rate_Hz / 5.0) * info.channels.size()),
        shown_(info.full_scale && isatty(STDERR_FILENO) != 0) {}
  ~ShownLevels() {
    if (shown_) fmt::print(stderr, "\n");
  }
  ShownLevels(const ShownLevels&) = delete;
  ShownLevels& operator=(const ShownLevels&) = delete;

  void add(std::span<const double> interleaved) {
    for (std::size_t i = 0; i < interleaved.size(); ++i)
      peaks_[i % peaks_.size()] = std::max(peaks_[i % peaks_.size()], std::abs(interleaved[i]));
    samples_ += interleaved.size();
    if (!shown_ || samples_ < samples_a_bar_) return;
    fmt::print(stderr, "\r{}", level_bars(peaks_));
    std::fill(peaks_.begin(), peaks_.end(), 0.0);
    samples_ = 0;
  }

 private:
  std::vector<double> peaks_;
  std::size_t samples_a_bar_, samples_ = 0;
  bool shown_;
};

}  // namespace

SourceAsked source_of_shop(SourceAsked asked) {
  if (!asked.source.empty()) return asked;
  asked.source = shop_value("source");
  if (asked.source.empty())
    throw Error(Trouble::request, "no_source", "it is not said what is to be recorded from",
                "name the source, as in --source alsa:hw:1 --rate \"48 kHz\" --channels 3");
  if (asked.live.rate.empty()) asked.live.rate = shop_value("source_rate");
  if (asked.live.format.empty()) asked.live.format = shop_value("source_format");
  const std::string channels = shop_value("source_channels");
  if (asked.live.channels == LiveAsked{}.channels && !channels.empty()) asked.live.channels = std::stoi(channels);
  return asked;
}

std::string recorded_step(const SourceAsked& asked, const std::filesystem::path& rig_file, SetupStep step) {
  const double seconds = parse_quantity(asked.seconds, Dimension::time);
  const auto live = open_live(asked.source, live_options_of(asked.live));
  const std::filesystem::path file = next_setup_recording(rig_file, step, live->info().full_scale);
  print_progress(fmt::format("recording {:g} s into {} …", seconds, file.string()));
  ShownLevels levels(live->info());
  record_into(file, *live, seconds, [&](std::span<const double> block) { levels.add(block); });
  return file.string();
}

}  // namespace counterspot::commands
