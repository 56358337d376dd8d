#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <thread>

#include "commands/command.hpp"
#include "commands/interrupt.hpp"
#include "commands/live_options.hpp"
#include "commands/log_place.hpp"
#include "commands/output.hpp"
#include "commands/picture.hpp"
#include "counterspot/drawing/command_words.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/log/log.hpp"
#include "counterspot/recording/capture.hpp"
#include "counterspot/tracking/live_tracking.hpp"
#include "files/output_file.hpp"
#include "report/text.hpp"

namespace counterspot::commands {

namespace {

struct RecordAsked {
  std::string source, file, rig, seconds;
  double most_s = 0.0;  ///< 0: until the end
  LiveAsked live;
  bool replace = false;
  bool json = false;
  const Words* words = &english();
};

/// Passes every block on to the file and the screen on its way to the tracker.
class TakenRecording final : public Recording {
 public:
  TakenRecording(LiveRecording& live, RecordingWriter& file, double seconds, const Words& words)
      : live_(live),
        words_(words),
        file_(file),
        most_frames_(seconds > 0.0 ? static_cast<std::int64_t>(std::llround(seconds * live.info().sample_rate_Hz))
                                   : std::int64_t{1} << 60),
        peaks_(live.info().channels.size(), 0.0),
        recent_peaks_(peaks_) {}

  const RecordingInfo& info() const override { return live_.info(); }
  Warnings warnings() const override { return live_.warnings(); }

  std::size_t read(std::span<double> interleaved) override {
    const auto left = static_cast<std::size_t>(most_frames_ - file_.frames());
    if (interrupted() || left == 0) return 0;
    const std::size_t channels = peaks_.size();
    const std::size_t got = live_.read(interleaved.first(std::min(interleaved.size() / channels, left) * channels));
    const auto taken = interleaved.first(got * channels);
    file_.write(taken);
    for (std::size_t i = 0; i < taken.size(); ++i) {
      recent_peaks_[i % channels] = std::max(recent_peaks_[i % channels], std::abs(taken[i]));
      peaks_[i % channels] = std::max(peaks_[i % channels], std::abs(taken[i]));
    }
    show_now_and_then();
    return got;
  }

  void reading(const LiveReading& now) { now_ = now; }
  const std::vector<double>& peaks() const { return peaks_; }

 private:
  void show_now_and_then() {
    const double seconds = static_cast<double>(file_.frames()) / info().sample_rate_Hz;
    if (isatty(STDERR_FILENO) == 0 || seconds < shown_s_ + 0.2) return;
    shown_s_ = seconds;
    std::string line = fmt::format("\r{:7.1f} s", seconds);
    if (now_.newest_s > 0.0) {
      line += now_.motion.turning == Turning::turning ? fmt::format("  {:6.1f} rpm", rpm(now_.speed_rad_s))
                                                      : fmt::format("  {}", now_.motion.words);
    }
    for (std::size_t c = 0; c < recent_peaks_.size(); ++c)
      line += fmt::format("  {}: {:6.3g}", c + 1, recent_peaks_[c]);
    if (live_.overrun_count() > 0) line += say(words_.commands().log.lost_times, live_.overrun_count());
    fmt::print(stderr, "{}   ", line);
    std::fill(recent_peaks_.begin(), recent_peaks_.end(), 0.0);
  }

  LiveRecording& live_;
  const Words& words_;
  RecordingWriter& file_;
  std::int64_t most_frames_;
  std::vector<double> peaks_, recent_peaks_;
  LiveReading now_;
  double shown_s_ = 0.0;
};

RecordingNotes notes_of(const RecordAsked& asked, const TakenRecording& taken, const LiveRecording& live,
                        std::int64_t frames) {
  const RecordingInfo& info = live.info();
  return {asked.file,      info.name,     info.format,     info.sample_rate_Hz,
          frames,          taken.peaks(), live.overruns(), live.overrun_count(),
          live.warnings(), now_unix_s(),  program_name()};
}

std::string summary(const RecordingNotes& notes, const Words& words) {
  const LogWords& texts = words.commands().log;
  const auto figure = [&](const std::string& number) { return with_decimal_sign(number, words); };
  std::string text = say(texts.recorded, notes.file, number_text(notes.duration_s(), 2, words), notes.frames,
                         figure(fmt::format("{:g}", notes.sample_rate_Hz)), notes.source, notes.format);
  int channel = 0;
  for (const double peak : notes.channel_peaks)
    text += say(texts.channel_peak, ++channel, figure(fmt::format("{:.4g}", peak)));
  return text + (notes.overruns == 0 ? texts.none_lost : "");
}

std::string notes_file(const RecordAsked& asked) {
  return asked.file + ".json";
}

/// What the source reads, if it is a file.
std::string file_of(const std::string& source) {
  if (source.starts_with("alsa:")) return "";
  const auto colon = source.starts_with("raw:") || source.starts_with("play:") ? source.find(':') + 1 : 0;
  return source.substr(colon);
}

/// Neither the recording nor its notes may be there, unless they are to be written over.
void admit_names(const RecordAsked& asked) {
  const OutputRules rules{asked.replace ? Overwrite::all : Overwrite::nothing, {file_of(asked.source), asked.rig}};
  admit_output(asked.file, rules);
  admit_output(notes_file(asked), rules);
}

/// Ends the source on Ctrl-C or SIGTERM, also while it has nothing to give.
std::jthread end_on_signal(LiveRecording& live) {
  heed_interrupts();
  return std::jthread([&live](const std::stop_token& done) {
    while (!done.stop_requested() && !interrupted()) std::this_thread::sleep_for(std::chrono::milliseconds(20));
    if (interrupted()) live.stop();
  });
}

void record_all(TakenRecording& taken, const RecordAsked& asked) {
  if (!asked.rig.empty()) {
    const Rig rig = read_rig(asked.rig);
    ShaftWatch watch(taken.info(), rig);
    follow(taken, rig, watch, [&](const LiveReading& now) { taken.reading(now); });
  }
  while (!taken.next(4096).empty()) {
  }
}

/// Takes all that comes into the file named, and gives its notes.
RecordingNotes record_with_notes(const std::string& name, const RecordAsked& asked, LiveRecording& live) {
  const auto watching = end_on_signal(live);
  RecordingWriter file(name, live.info());
  TakenRecording taken(live, file, asked.most_s, *asked.words);
  record_all(taken, asked);
  live.stop();
  if (isatty(STDERR_FILENO) != 0) fmt::print(stderr, "\n");
  file.close();
  if (file.frames() == 0) {
    std::filesystem::remove(name);
    throw Error(Trouble::recording, "no_data",
                fmt::format("{}: no samples came, and nothing was kept", live.info().name),
                "see that the source runs, and record again");
  }
  return notes_of(asked, taken, live, file.frames());
}

/// The same beside a file that is to be written over: that one stays until the new one is whole.
RecordingNotes record_in_place_of(const RecordAsked& asked, LiveRecording& live) {
  const std::filesystem::path file = std::filesystem::canonical(asked.file);
  const std::string part = part_beside(file).string();
  try {
    RecordingNotes notes = record_with_notes(part, asked, live);
    give_name(part, file, Overwrite::all);
    return notes;
  } catch (const Error& error) {
    if (!std::filesystem::exists(part)) throw;
    throw Error(error.trouble(), error.code(), error.what(),
                fmt::format("{}; {} is as it was, what came is in {}", error.remedy(), asked.file, part));
  }
}

void record(RecordAsked asked) {
  if (!asked.seconds.empty()) asked.most_s = parse_quantity(asked.seconds, Dimension::time);
  if (!asked.rig.empty()) read_rig(asked.rig);
  admit_names(asked);
  const bool replaces = std::filesystem::exists(asked.file);
  auto live = open_live(asked.source, live_options_of(asked.live));
  const RecordingNotes notes =
      replaces ? record_in_place_of(asked, *live) : record_with_notes(asked.file, asked, *live);
  // A name that is no UTF-8 gets U+FFFD, as in every document.
  const std::string text = document_of(notes).dump(1, ' ', false, Json::error_handler_t::replace);
  write_output(notes_file(asked), text + "\n", {Overwrite::all, {}});
  asked.json ? print_json(document_of(notes)) : print(summary(notes, *asked.words));
  if (live->overrun_count() == 0) return;
  throw Error(Trouble::recording, "overrun",
              fmt::format("{}: samples were lost {} times; where, stands in {}.json", asked.file, live->overrun_count(),
                          asked.file),
              "record again; a disk or a machine that is busy with other work is the usual reason");
}

}  // namespace

void add_record(CLI::App& program, int& /*exit_code*/) {
  auto asked = std::make_shared<RecordAsked>();
  CLI::App* command = program.add_subcommand("record", "Record from a sound device, a pipe or standard input");
  command->add_option("source", asked->source, source_words)->required();
  command->add_option("file", asked->file, "Where to: .flac, .w64, .rf64 or .wav (.csv from a CSV)")->required();
  command->add_option("--seconds", asked->seconds, "How long, as in \"10 s\"; else until the end or Ctrl-C");
  command->add_option("--rig", asked->rig, "The rig's file: shows the speed while recording");
  add_replace_option(*command, asked->replace);
  command->add_flag("--json", asked->json, "One JSON document for programs; the same goes to FILE.json always");
  add_language_option(*command, asked->words);
  add_live_options(*command, asked->live);
  command->footer(
      "Example:\n  counterspot record alsa:hw:1 spin.w64 --rate \"51.2 kHz\" --channels 3 --rig rig.toml --seconds "
      "\"10 "
      "s\"\nExit code 3: samples were lost; the file holds what came, FILE.json says where the gaps are.\n\n" +
      cautions());
  command->callback([asked] { record(*asked); });
}

}  // namespace counterspot::commands
