#include "console/recorder.hpp"

#include <algorithm>
#include <cassert>
#include <chrono>
#include <cmath>

#include "counterspot/units/error.hpp"
#include "files/output_file.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

constexpr double steady_for_s = 2.0;
constexpr double steady_within = 0.005;
constexpr double levels_every_s = 0.2;

Error disk_error(const std::filesystem::path& file, const std::error_code& trouble) {
  return {Trouble::machine, "disk", file.string() + " cannot be kept: " + trouble.message(),
          "look at the recordings folder: its disk, its share, the right to write there"};
}

Error may_turn(const ShaftMotion& motion) {
  const bool turning = motion.turning == Turning::turning;
  return {Trouble::request, "may_turn",
          turning                ? "the tach sees the shaft turn"
          : motion.words.empty() ? "the shaft may be turning"
                                 : motion.words,
          "stop the drive, keep away, and say it when the shaft has stood for 10 s"};
}

/// Nothing that was recorded is written over.
bool is_free(const std::filesystem::path& name) {
  std::error_code trouble;
  const bool there = std::filesystem::exists(name, trouble);
  if (trouble) throw disk_error(name, trouble);
  return !there;
}

/// With the first number that is free.
std::filesystem::path unused_name(const std::string& begin, const std::filesystem::path& kind) {
  for (int number = 1;; ++number) {
    std::filesystem::path name = begin + std::to_string(number) + kind.string();
    if (is_free(name)) return name;
  }
}

}  // namespace

const char* phase_name(Phase phase) {
  switch (phase) {
    case Phase::idle: return "idle";
    case Phase::spin_up: return "spin_up";
    case Phase::hold: return "hold";
    case Phase::too_fast: return "too_fast";
    case Phase::recording: return "recording";
    case Phase::measuring: return "measuring";
  }
  return "idle";
}

/// Shows every block to the recorder on its way to the tracker.
class Recorder::WatchedRecording final : public Recording {
 public:
  explicit WatchedRecording(Recorder& recorder) : recorder_(recorder) {}
  const RecordingInfo& info() const override { return recorder_.live_->info(); }
  std::size_t read(std::span<double> interleaved) override {
    const std::size_t got = recorder_.live_->read(interleaved);
    recorder_.push(interleaved.first(got * info().channels.size()));
    return got;
  }

 private:
  Recorder& recorder_;
};

Recorder::Recorder(const std::string& source, const LiveOptions& options, Rig rig, Recorded recorded)
    : rig_(std::move(rig)), recorded_(std::move(recorded)) {
  if (source.empty()) return;
  live_ = open_live(source, options);
  shaft_.emplace(live_->info(), rig_);
  newest_.begin(live_->info());
  for (const Sensor& sensor : rig_.sensors)
    shown_channels_.push_back(find_channel(live_->info(), sensor.channel, "sensor " + sensor.name));
  if (rig_.tach.channel) shown_channels_.push_back(find_channel(live_->info(), *rig_.tach.channel, "the tach"));
  peaks_.assign(shown_channels_.size(), 0.0);
  view_.source = source;
  view_.heard = RecorderView::Clock::now();
  thread_ = std::jthread([this] { run(); });
}

Recorder::~Recorder() {
  stop();
}

void Recorder::stop() {
  if (live_) live_->stop();
  if (thread_.joinable()) thread_.join();
}

/// The outermost place of this thread: whatever fails is said, and the rig is followed on for as long as samples come.
Said live_ended() {
  return said({"the live source has ended", "die laufende Quelle ist zu Ende"});
}

void Recorder::run() {
  std::int64_t before = -1;
  while (frames_taken_ > before) {
    before = frames_taken_;
    try {
      if (!follow_on()) return;
    } catch (const Error& error) {
      say(sentence_of(error));
    } catch (const std::exception& fault) {
      say(sentence_of(fault));
    }
  }
}

/// False: the source has ended, or it was stopped.
bool Recorder::follow_on() {
  give_up();  // what was being recorded when something failed
  WatchedRecording watched(*this);
  follow(watched, rig_, *shaft_, [this](const LiveReading& reading) { watch(reading); });
  give_up();
  if (view().trouble.empty()) say(live_ended());
  return false;
}

void Recorder::say(const Said& trouble) {
  failed_ = true;
  tell([&](RecorderView& view) {
    view.trouble = trouble;
    view.phase = Phase::idle;
    view.reading = {};
  });
}

void Recorder::confirm_standing() {
  const ShaftMotion motion = view().reading.motion;
  if (motion.turning == Turning::standing) return;
  if (!motion.may_be_confirmed) throw may_turn(motion);
  confirmed_ = true;
}

void Recorder::refuse_unless_standing() const {
  const RecorderView now = view();
  const bool old = now.age_s(RecorderView::Clock::now()) > old_s;
  if (old || now.reading.motion.turning != Turning::standing) throw may_turn(old ? ShaftMotion{} : now.reading.motion);
}

void Recorder::tell(const std::function<void(RecorderView&)>& change) {
  const std::scoped_lock lock(mutex_);
  change(view_);
  ++view_.news;
  changed_.notify_all();
}

void Recorder::enough() {
  enough_ = view().request.serial;
}

void Recorder::request(const SpinRequest& request) {
  tell([&](RecorderView& view) {
    view.request = request;
    if (!request.spin && view.phase != Phase::idle) view.phase = Phase::idle;
  });
}

RecorderView Recorder::view() const {
  const std::scoped_lock lock(mutex_);
  return view_;
}

RecorderView Recorder::wait_for_news(std::uint64_t news, double seconds) const {
  std::unique_lock lock(mutex_);
  changed_.wait_for(lock, std::chrono::duration<double>(seconds), [&] { return view_.news != news; });
  return view_;
}

void Recorder::push(std::span<const double> samples) {
  const std::size_t channels = live_->info().channels.size();
  frames_taken_ += static_cast<std::int64_t>(samples.size() / channels);
  if (!samples.empty()) {
    const double waiting_s = live_->waiting_s();
    const std::scoped_lock lock(mutex_);
    view_.heard = RecorderView::Clock::now();
    view_.waiting_s = waiting_s;
  }
  newest_.push(samples);
  for (std::size_t i = 0; i < samples.size(); i += channels)
    for (std::size_t c = 0; c < shown_channels_.size(); ++c)
      peaks_[c] = std::max(peaks_[c], std::abs(samples[i + shown_channels_[c]]));
  frames_since_levels_ += static_cast<std::int64_t>(samples.size() / channels);
  if (static_cast<double>(frames_since_levels_) >= levels_every_s * live_->info().sample_rate_Hz) {
    tell([&](RecorderView& view) {
      view.levels = peaks_;
      view.frames_captured = live_->frames_captured();
      view.overruns = live_->overrun_count();
      view.warnings = live_->warnings();
    });
    peaks_.assign(peaks_.size(), 0.0);
    frames_since_levels_ = 0;
  }
  if (writer_) write(samples);
}

/// What is at work holds readings against its own spins, which were read with these sensitivities: the rig's file may
/// say others since it was begun, or before.
void Recorder::read_as(const Rig& rig) {
  for (std::size_t s = 0; s < std::min(rig_.sensors.size(), rig.sensors.size()); ++s) {
    Sensor& mine = rig_.sensors[s];
    const Sensor& other = rig.sensors[s];
    if (mine.name == other.name && mine.sensitivity.motion == other.sensitivity.motion)
      mine.sensitivity = other.sensitivity;
  }
}

/// One reading of the tracker: what the job wants decides what is done with it.
void Recorder::watch(const LiveReading& reading) {
  const SpinRequest request = view().request;
  if (request.job) read_as(request.job->rig);
  course_.add(reading);
  if (confirmed_.exchange(false)) shaft_->confirm_standing();
  if (reading.speed_rad_s == 0.0) speeds_.clear();
  speeds_.push_back({reading.at_s, reading.speed_rad_s});
  while (speeds_.front().at_s < reading.at_s - steady_for_s) speeds_.pop_front();
  const bool wanted = (request.spin || request.knocks) && request.serial != done_serial_;
  const double last_rad_s = reading.motion.tach_lost ? reading.motion.last_speed_rad_s : reading.speed_rad_s;
  const bool too_fast = request.safe_rad_s && last_rad_s > *request.safe_rad_s;
  if (writer_ && (!wanted || too_fast || request.serial != recording_request_.serial || !steady(request))) give_up();
  if (!writer_ && wanted && !too_fast && steady(request)) begin_recording(request);
  const bool in_band = reading.speed_rad_s >= request.low_rad_s && reading.speed_rad_s <= request.high_rad_s;
  const bool back = failed_ && reading.revolutions > 0;
  if (back) failed_ = false;
  tell([&](RecorderView& view) {
    view.reading = reading;
    if (back) view.trouble = {};
    if (view.request.serial != request.serial) return;
    if (too_fast) {
      view.phase = Phase::too_fast;
    } else if (writer_) {
      view.phase = Phase::recording;
    } else if (wanted && request.spin) {
      view.phase = in_band && reading.speed_rad_s > 0.0 ? Phase::hold : Phase::spin_up;
    } else if (view.phase != Phase::measuring || !request.spin) {
      view.phase = Phase::idle;
    }
  });
}

bool Recorder::steady(const SpinRequest& request) const {
  if (request.knocks)  // the tach may be dead: then the sensors tell
    return speeds_.back().rad_s == 0.0 && !(writer_ && shaft_->turns_among_knocks());
  if (speeds_.size() < 5 || speeds_.back().at_s - speeds_.front().at_s < 0.85 * steady_for_s) return false;
  const auto [slowest, fastest] = std::minmax_element(
      speeds_.begin(), speeds_.end(), [](const Speed& one, const Speed& other) { return one.rad_s < other.rad_s; });
  return slowest->rad_s > 0.0 && slowest->rad_s >= request.low_rad_s && fastest->rad_s <= request.high_rad_s &&
         fastest->rad_s <= (1.0 + steady_within) * slowest->rad_s;
}

void Recorder::begin_recording(const SpinRequest& request) {
  const char* kind = live_->info().full_scale ? ".flac" : ".csv";
  try {
    part_ = unused_name(request.file.string() + ".part-", kind);
    writer_.emplace(part_, live_->info());
  } catch (const Error& error) {
    speeds_.clear();  // tried again once it was steady as long again
    tell([&](RecorderView& view) { view.trouble = sentence_of(error); });
    return;
  }
  tell([](RecorderView& view) { view.trouble = {}; });
  recording_request_ = request;
  overruns_before_ = live_->overrun_count();
}

void Recorder::write(std::span<const double> samples) {
  // The gap lies before these samples.
  if (live_->overrun_count() != overruns_before_) return give_up();
  try {
    writer_->write(samples);
  } catch (const Error& error) {
    give_up();
    tell([&](RecorderView& view) { view.trouble = sentence_of(error); });
    return;
  }
  const double seconds = static_cast<double>(writer_->frames()) / live_->info().sample_rate_Hz;
  {
    const std::scoped_lock lock(mutex_);
    view_.recorded_s = seconds;  // told with the next reading: as news with every block it held the screens' events up
  }
  if (seconds < recording_request_.seconds && enough_ != recording_request_.serial) return;
  done_serial_ = recording_request_.serial;
  tell([&](RecorderView& view) {
    view.phase = Phase::measuring;
    view.recorded_s = 0.0;
  });
  hand_over(true);
}

/// A spin that was not steady to its end, or has a gap, is no measurement; what came in is kept beside the others.
/// Knocks are asked for again by a person only.
void Recorder::give_up() {
  if (!writer_) return;
  if (recording_request_.knocks) done_serial_ = recording_request_.serial;
  tell([&](RecorderView& view) {
    view.recorded_s = 0.0;
    ++view.cut_off;
  });
  hand_over(false);
}

void Recorder::hand_over(bool whole) {
  assert(writer_);
  recorded_({recording_request_, std::move(*writer_), part_, whole});
  writer_.reset();
}

std::filesystem::path finish(SpinFile& spin) {
  spin.writer.close();
  std::error_code trouble;
  if (spin.writer.frames() == 0) {
    std::filesystem::remove(spin.part, trouble);
    return {};
  }
  const std::filesystem::path kind = spin.part.extension();
  const std::string wanted = spin.request.file.string();
  std::filesystem::path name = wanted + kind.string();
  if (!spin.whole) {
    name = unused_name(wanted + ".cut-", kind);
  } else if (!is_free(name)) {
    name = unused_name(wanted + "-", kind);
  }
  give_name(spin.part, name, Overwrite::nothing);
  return name;
}

}  // namespace counterspot
