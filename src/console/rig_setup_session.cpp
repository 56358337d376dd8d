#include "console/rig_setup_session.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <set>
#include <string_view>
#include <utility>

#include "console/recorder.hpp"
#include "console/replies.hpp"
#include "counterspot/drawing/drawing_rig_setup.hpp"
#include "counterspot/drawing/titled.hpp"
#include "counterspot/log/log.hpp"
#include "counterspot/recording/recording_names.hpp"
#include "counterspot/recording/sound_devices.hpp"
#include "counterspot/units/error.hpp"
#include "report/rig_setup.hpp"
#include "report/sound_devices.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

constexpr double shown_every_s = 0.2;
constexpr double unheard_s = 2.0;
constexpr double lowest_dB = -100.0;  // of the bars
constexpr std::size_t files_shown = 12;
constexpr std::string_view logger_source = "folder:";

std::filesystem::path rig_file_in(const std::filesystem::path& folder) {
  std::error_code unmade;
  std::filesystem::create_directories(folder, unmade);
  if (unmade) {
    throw Error(Trouble::machine, "disk", folder.string() + " cannot be made: " + unmade.message(),
                "give the program the right to write there, or name another folder with --new-rig");
  }
  return folder / "rig.toml";
}

Json said_in(const std::vector<Said>& sentences, const Viewer& viewer) {
  Json all = Json::array();
  for (const Said& sentence : sentences) all.push_back(sentence.in(viewer.words().language));
  return all;
}

std::string word_in(const Json& said, const char* key) {
  return said.value(key, std::string());
}

/// With what can be chosen of it, the best first.
Json device_in(const SoundDevice& device, const std::string& language) {
  const LiveOptions best = best_of(device);
  Json channels = Json::array({best.channels}), rates = Json::array(), formats = Json::array();
  for (int count = std::max(device.least_channels, setup_least_channels); count <= device.most_channels; ++count)
    if (count != best.channels) channels.push_back(count);
  const auto add_rate = [&](double rate_Hz) {
    rates.push_back({{"value", fmt::format("{:.10g} Hz", rate_Hz)},
                     {"words", said({"{:g} kHz", "{:g} kHz"}, rate_Hz / 1e3).in(language)}});
  };
  add_rate(best.sample_rate_Hz);
  for (const double rate_Hz : device.rates_Hz)
    if (rate_Hz != best.sample_rate_Hz) add_rate(rate_Hz);
  for (const RawFormat format : device.formats) formats.push_back(raw_format_name(format));
  return {{"source", device.source},
          {"name", device.description},
          {"offers", device.trouble ? "" : offers_text(device).in(language)},
          {"channels", channels},
          {"rates", rates},
          {"formats", formats},
          {"too_few", !device.trouble && device.most_channels < setup_least_channels},
          {"trouble", device.trouble ? sentence_of(*device.trouble).in(language) : ""}};
}

/// Of the recordings there, those that show no step yet, the newest first.
Json files_in(const std::filesystem::path& folder, const SetupTold& told, const Viewer& viewer) {
  std::vector<std::pair<std::filesystem::file_time_type, std::string>> found;
  std::error_code unseen;
  for (const std::filesystem::path& file : recordings_in(folder)) {
    const std::string whole = std::filesystem::absolute(file).lexically_normal().string();
    const bool used = std::ranges::any_of(told.recordings, [&](const auto& each) { return each.second == whole; });
    if (!used) found.emplace_back(std::filesystem::last_write_time(file, unseen), file.filename().string());
  }
  std::ranges::sort(found, std::greater{});
  if (found.size() > files_shown) found.resize(files_shown);
  Json files = Json::array();
  const auto now = std::filesystem::file_time_type::clock::now();
  for (const auto& [at, name] : found) {
    const auto age_min = std::chrono::duration_cast<std::chrono::minutes>(now - at).count();
    files.push_back({{"name", name}, {"age", viewer.texts("setup_minutes_ago", age_min)}});
  }
  return files;
}

/// Where recordings lie: here, and in the folders one step down.
Json folders_in(const std::filesystem::path& here) {
  std::error_code unseen;
  std::set<std::filesystem::path> all = {here};
  for (const auto& entry : std::filesystem::directory_iterator(here, unseen))
    if (entry.is_directory(unseen)) all.insert(entry.path());
  Json folders = Json::array();
  for (const auto& folder : all)
    if (!recordings_in(folder).empty()) folders.push_back(folder.string());
  return folders;
}

Json pipes_in(const std::set<std::filesystem::path>& folders) {
  Json pipes = Json::array();
  std::error_code unseen;
  for (const auto& folder : folders)
    for (const auto& entry : std::filesystem::directory_iterator(folder, unseen))
      if (entry.is_fifo(unseen)) pipes.push_back(entry.path().string());
  return pipes;
}

Error step_moved_on() {
  return {Trouble::request, "job_moved_on", "something else is asked for by now",
          "look at what is asked for now, and do that"};
}

/// At the pedestals, while it is recorded.
bool hands_are_at(SetupStep step) {
  return step == SetupStep::knocks_a || step == SetupStep::knocks_b;
}

bool wants_hands(const SetupInstruction& asked) {
  return !asked.by_hand.empty() || !asked.driven;
}

}  // namespace

const char* setup_stage_name(SetupStage stage) {
  switch (stage) {
    case SetupStage::source: return "source";
    case SetupStage::stand: return "stand";
    case SetupStage::hands: return "hands";
    case SetupStage::record: return "record";
    case SetupStage::recording: return "recording";
    case SetupStage::finding: return "finding";
    case SetupStage::direction: return "direction";
    case SetupStage::failed: return "failed";
    case SetupStage::proved: return "proved";
  }
  return "";
}

RigSetupSession::RigSetupSession(const RigSetupConsoleOptions& options)
    : rig_file_(rig_file_in(options.folder)), told_(setup_beside(rig_file_)), heard_(Clock::now()) {
  Said trouble;
  if (!options.source.empty())
    listen_to(options.source, options.live, false);
  else if (told_.source.starts_with(logger_source))
    trouble = trouble_in([this] { look_into(told_.source, false); });
  else if (!told_.source.empty())
    trouble = trouble_in([this] { listen_to(told_.source, live_options_of(told_), false); });
  if (has_source()) return;
  const std::scoped_lock lock(mutex_);
  ended_ = trouble;
  find();
}

RigSetupSession::~RigSetupSession() {
  stop_listening();
}

/// Whoever calls holds `choosing_`, or is the only one there is.
void RigSetupSession::listen_to(const std::string& source, const LiveOptions& options, bool anew) {
  auto opened = open_live(source, options);
  {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [this] { return !finding_; });
    SetupTold told = told_;
    if (record_from(told, source, options) && anew) told.recordings.clear();
    keep_setup(rig_file_, told);
    told_ = std::move(told);
    live_ = std::move(opened);
    watch_.emplace(live_->info());
    peaks_.assign(live_->info().channels.size(), 0.0);
    levels_.clear();
    frames_ = 0;
    heard_ = Clock::now();
    trouble_ = {};
    ended_ = {};
    find();  // for what is known of rest and rig, which the watch goes by
  }
  thread_ = std::jthread([this, &live = *live_] { run(live); });
}

/// Likewise. Recordings of a logger are brought one by one.
void RigSetupSession::look_into(const std::string& source, bool anew) {
  const std::filesystem::path folder = source.substr(logger_source.size());
  std::error_code unseen;
  if (!std::filesystem::is_directory(folder, unseen))
    throw Error(Trouble::request, "not_found", folder.string() + ": there is no such folder",
                "name the folder where the logger puts its recordings");
  std::unique_lock lock(mutex_);
  changed_.wait(lock, [this] { return !finding_; });
  SetupTold told = told_;
  if (record_from(told, source, live_options_of(told)) && anew) told.recordings.clear();
  keep_setup(rig_file_, told);
  told_ = std::move(told);
  logger_ = folder;
  trouble_ = {};
  find();
}

bool RigSetupSession::has_source() const {
  return (live_ && ended_.empty()) || !logger_.empty();
}

/// Likewise, and without the other mutex, which the source's thread wants.
void RigSetupSession::stop_listening() {
  if (live_) live_->stop();
  thread_ = {};
  const std::scoped_lock lock(mutex_);
  live_.reset();
  watch_.reset();
  writer_.reset();
  logger_.clear();
  seen_to_stand_ = false;
  ended_ = {};
  levels_.clear();
  hands_did_.clear();
  ++serial_;
  news();
}

/// The outermost place of this thread: what fails is said.
void RigSetupSession::run(LiveRecording& live) {
  const Said trouble = trouble_in([this, &live] {
    for (;;) {
      const auto block = live.next(1024);
      if (block.empty()) break;
      const std::scoped_lock lock(mutex_);
      push(block);
    }
  });
  const std::scoped_lock lock(mutex_);
  writer_.reset();
  ended_ = trouble.empty() ? live_ended() : trouble;
  ++serial_;
  news();
}

void RigSetupSession::news() {
  ++news_;
  changed_.notify_all();
}

void RigSetupSession::push(std::span<const double> samples) {
  heard_ = Clock::now();
  const SetupStage before = stage();
  watch_->push(samples);
  const std::size_t channels = peaks_.size();
  for (std::size_t i = 0; i < samples.size(); ++i)
    peaks_[i % channels] = std::max(peaks_[i % channels], std::abs(samples[i]));
  frames_ += static_cast<std::int64_t>(samples.size() / channels);
  if (static_cast<double>(frames_) >= shown_every_s * live_->info().sample_rate_Hz) {
    levels_.swap(peaks_);
    peaks_.assign(channels, 0.0);
    frames_ = 0;
    news();
  }
  if (writer_ && hands_are_at(recording_step_) && watch_->turns_among_knocks()) {
    writer_.reset();
    trouble_ = said({"something moved as a shaft that turns does: keep off, and knock again once all stands",
                     "etwas bewegte sich wie eine Welle, die sich dreht: Abstand halten und noch einmal klopfen, wenn "
                     "alles steht"});
  }
  if (writer_) {
    const Said trouble = trouble_in([&] { writer_->write(samples); });
    if (!trouble.empty() || live_->overrun_count() != overruns_before_) {
      writer_.reset();
      trouble_ = trouble.empty() ? said({"samples were lost while it was recorded: do the same again",
                                         "bei der Aufnahme gingen Abtastwerte verloren: dasselbe nochmals"})
                                 : trouble;
    } else if (static_cast<double>(writer_->frames()) >= wanted_s_ * live_->info().sample_rate_Hz) {
      end_recording();
    }
  }
  if (stage() != before) {
    ++serial_;
    news();
  }
}

void RigSetupSession::end_recording() {
  trouble_ = trouble_in([this] {
    writer_->close();
    SetupTold told = told_;
    add_setup_recording(told, recording_step_, recording_);
    keep_setup(rig_file_, told);
    told_ = std::move(told);
  });
  writer_.reset();
  if (trouble_.empty()) find();
}

/// On a thread of its own, for it reads all recordings; the source goes on.
void RigSetupSession::find() {
  finding_ = true;
  ++serial_;
  news();
  finder_ = std::jthread([this, told = told_] {
    SetupStanding standing;
    std::unique_ptr<Recording> rest;
    const Said trouble = trouble_in([&] {
      standing = standing_of(told);
      if (told.recordings.contains(SetupStep::rest)) rest = open_recording(told.recordings.at(SetupStep::rest));
    });
    const std::scoped_lock lock(mutex_);
    finding_ = false;
    trouble_ = trouble.empty() ? trouble_in([&] {
      if (rest && watch_) watch_->know_rest(*rest);
      understand(std::move(standing));
    })
                               : trouble;
    ++serial_;
    news();
  });
}

void RigSetupSession::understand(SetupStanding standing) {
  standing_ = std::move(standing);
  if (standing_.again) hands_did_.clear();  // the mark is to be half a turn away again
  if (watch_) watch_->know_rig(standing_.watched);
}

SetupMotion RigSetupSession::motion() {
  if (!logger_.empty()) return seen_to_stand_ ? SetupMotion::standing : SetupMotion::asked;
  return silent() || !watch_ ? SetupMotion::unheard : watch_->motion();
}

bool RigSetupSession::silent() const {
  return std::chrono::duration<double>(Clock::now() - heard_).count() > unheard_s;
}

SetupStage RigSetupSession::stage() {
  if (writer_) return SetupStage::recording;
  if (finding_) return SetupStage::finding;
  if (!standing_.next) {
    const bool held = standing_.proof && standing_.proof->result == ProofResult::held;
    return held ? SetupStage::proved : SetupStage::failed;
  }
  if (*standing_.next == SetupStep::direction) return SetupStage::direction;
  if (!has_source()) return SetupStage::source;
  const SetupInstruction asked = instruction_of(*standing_.next, told_);
  const bool done = asked.by_hand.empty() || hands_did_ == asked.by_hand.en;
  if (wants_hands(asked) && !(done && asked.driven)) {
    if (motion() != SetupMotion::standing) return SetupStage::stand;
    if (!done) return SetupStage::hands;
  }
  return SetupStage::record;
}

void RigSetupSession::admit(const Json& said, SetupStage wanted) {
  const bool here = standing_.next && word_in(said, "step") == setup_step_name(*standing_.next);
  if (!here || stage() != wanted) throw step_moved_on();
}

/// Nothing else is found meanwhile.
void RigSetupSession::refuse_while_busy() const {
  if (writer_ || finding_) throw step_moved_on();
}

namespace {

/// From the page no file is read as samples: whoever may work at a rig may not therefore look into the machine.
void admit_from_page(const std::string& source) {
  std::error_code unseen;
  const bool raw = source.starts_with("raw:");
  const std::filesystem::path pipe = raw ? source.substr(4) : "";
  if (source.empty() || source.starts_with("alsa:")) return;
  if (raw && (!std::filesystem::exists(pipe, unseen) || std::filesystem::is_fifo(pipe, unseen))) return;
  throw Error(Trouble::request, "bad_source", source + " is no source that can be chosen at the page",
              "choose a device, a folder or a named pipe, or name it where the program is started: --source");
}

}  // namespace

void RigSetupSession::choose(const Json& said) {
  SetupTold typed;
  typed.source = word_in(said, "source");
  typed.source_rate = word_in(said, "rate");
  typed.source_channels = word_in(said, "channels");
  typed.source_format = word_in(said, "format");
  const bool logger = typed.source.starts_with(logger_source);
  if (!logger) admit_from_page(typed.source);
  const LiveOptions options = logger ? LiveOptions{} : live_options_of(typed);
  const std::scoped_lock choosing(choosing_);
  {
    const std::scoped_lock lock(mutex_);
    refuse_while_busy();
  }
  stop_listening();  // the same device may be what is chosen
  logger ? look_into(typed.source, true) : listen_to(typed.source, options, true);
}

void RigSetupSession::leave() {
  const std::scoped_lock choosing(choosing_);
  {
    const std::scoped_lock lock(mutex_);
    refuse_while_busy();
  }
  stop_listening();
}

void RigSetupSession::stands() {
  const std::scoped_lock lock(mutex_);
  if (!has_source()) throw step_moved_on();
  watch_ ? watch_->confirm() : static_cast<void>(seen_to_stand_ = true);
  ++serial_;
  news();
}

void RigSetupSession::hands_done(const Json& said) {
  const std::scoped_lock lock(mutex_);
  admit(said, SetupStage::hands);
  SetupTold told = told_;
  SetupTold typed;
  typed.name.clear();
  typed.viewing_end.clear();
  typed.weight = word_in(said, "weight");
  typed.radius = word_in(said, "radius");
  add_typed(told, typed);
  if (*standing_.next == SetupStep::at_a && (told.weight.empty() || told.radius.empty())) {
    throw Error(Trouble::request, "no_known_weight",
                "it is not said how heavy the weight is and at what radius it sits", "type both, as in 15 g and 39 mm");
  }
  keep_setup(rig_file_, told);
  told_ = std::move(told);
  hands_did_ = instruction_of(*standing_.next, told_).by_hand.en;
  ++serial_;
  news();
}

void RigSetupSession::record(const Json& said) {
  const std::scoped_lock lock(mutex_);
  admit(said, SetupStage::record);
  if (!live_) throw step_moved_on();
  const SetupInstruction asked = instruction_of(*standing_.next, told_);
  recording_step_ = *standing_.next;
  recording_ = next_setup_recording(rig_file_, recording_step_, live_->info().full_scale);
  writer_.emplace(recording_, live_->info());
  wanted_s_ = asked.seconds;
  overruns_before_ = live_->overrun_count();
  trouble_ = {};
  if (asked.driven) {
    watch_->forget();
    hands_did_.clear();
  }
  ++serial_;
  news();
}

void RigSetupSession::bring(const Json& said) {
  const std::scoped_lock lock(mutex_);
  admit(said, SetupStage::record);
  // Its name alone: nothing beside the folder is opened.
  const std::filesystem::path file = logger_ / std::filesystem::path(word_in(said, "file")).filename();
  open_recording(file.string());  // for its error
  SetupTold told = told_;
  add_setup_recording(told, *standing_.next, file);
  keep_setup(rig_file_, told);
  told_ = std::move(told);
  if (instruction_of(*standing_.next, told_).driven) {
    seen_to_stand_ = false;
    hands_did_.clear();
  }
  find();
}

void RigSetupSession::enough() {
  const std::scoped_lock lock(mutex_);
  if (writer_) end_recording();
}

void RigSetupSession::tell(const Json& said) {
  const std::scoped_lock lock(mutex_);
  refuse_while_busy();
  SetupTold told = told_;
  SetupTold typed;
  typed.name = word_in(said, "name");
  typed.viewing_end = word_in(said, "viewing_end");
  typed.top_goes = word_in(said, "top_goes");
  typed.full_scale = word_in(said, "full_scale");
  typed.sensitivity = {word_in(said, "sensitivity_a"), word_in(said, "sensitivity_b")};
  const auto one_of = [](const std::string& word, const char* one, const char* other) {
    return word.empty() || word == one || word == other;
  };
  if (!one_of(typed.viewing_end, "A", "B") || !one_of(typed.top_goes, "left", "right"))
    throw Error(Trouble::request, "bad_request", "a value in the request is of the wrong kind", "load the page again");
  if (!typed.top_goes.empty()) admit(said, SetupStage::direction);
  add_typed(told, typed);
  keep_setup(rig_file_, told);
  told_ = std::move(told);
  find();
}

void RigSetupSession::again(const Json& said) {
  change_steps(said, ask_again);
}

void RigSetupSession::without(const Json& said) {
  change_steps(said, do_without);
}

void RigSetupSession::change_steps(const Json& said, void (*change)(SetupTold&, const std::vector<SetupStep>&)) {
  const std::scoped_lock lock(mutex_);
  refuse_while_busy();
  SetupTold told = told_;
  change(told, setup_steps_named(word_in(said, "what")));
  keep_setup(rig_file_, told);
  told_ = std::move(told);
  if (watch_) watch_->forget();
  seen_to_stand_ = false;
  hands_did_.clear();
  saved_ = false;
  find();
}

void RigSetupSession::save(const Json& said) {
  const std::scoped_lock lock(mutex_);
  if (stage() == SetupStage::proved)
    saved_ = write_proved(standing_, told_, rig_file_, false, {}, word_in(said, "language"));
  ++serial_;
  news();
}

void RigSetupSession::keep_shop() {
  const std::scoped_lock lock(mutex_);
  if (!saved_) throw step_moved_on();
  keep_as_shops(rig_file_, told_);
  shop_kept_ = true;
  ++serial_;
  news();
}

void RigSetupSession::wait(std::uint64_t& seen, double seconds) {
  std::unique_lock lock(mutex_);
  changed_.wait_for(lock, std::chrono::duration<double>(seconds), [&] { return news_ != seen; });
  seen = news_;
}

Json RigSetupSession::sources(const Viewer& viewer) {
  const std::scoped_lock choosing(choosing_);
  Json devices = Json::array();
  for (const SoundDevice& device : sound_devices()) devices.push_back(device_in(device, viewer.words().language));
  return {{"devices", devices},
          {"folders", folders_in(std::filesystem::current_path())},
          {"pipes",
           pipes_in({std::filesystem::weakly_canonical(rig_file_.parent_path()), std::filesystem::current_path()})}};
}

Json RigSetupSession::live(const Viewer& viewer) {
  const std::scoped_lock lock(mutex_);
  Json levels = Json::array();
  for (std::size_t c = 0; live_ && c < levels_.size(); ++c) {
    const RecordingInfo& info = live_->info();
    const double dB = 20.0 * std::log10(std::max(levels_[c], 1e-9));
    const std::string name = info.full_scale ? viewer.texts("setup_channel", c + 1) : info.channels[c].name;
    levels.push_back({{"name", name},
                      {"bar", std::clamp(1.0 - dB / lowest_dB, 0.0, 1.0)},
                      {"words", viewer.number(dB, 0) + " dB"},
                      {"full", info.full_scale && levels_[c] > 0.98}});
  }
  const double recorded_s = writer_ ? static_cast<double>(writer_->frames()) / live_->info().sample_rate_Hz : 0.0;
  const SetupMotion motion = this->motion();
  return {{"serial", serial_},
          {"stage", setup_stage_name(stage())},
          {"old", logger_.empty() && silent()},
          {"levels", levels},
          {"progress", wanted_s_ > 0.0 ? recorded_s / wanted_s_ : 0.0},
          {"may_confirm", motion == SetupMotion::asked},
          {"motion", motion == SetupMotion::moving                      ? viewer.texts("setup_moving")
                     : motion == SetupMotion::unheard                   ? viewer.texts("setup_unheard")
                     : motion == SetupMotion::asked && !logger_.empty() ? viewer.texts("setup_unwatched")
                     : motion == SetupMotion::asked                     ? viewer.texts("setup_quiet")
                                                                        : viewer.texts("setup_standing")}};
}

Picture RigSetupSession::picture(const Viewer& viewer) {
  const std::scoped_lock lock(mutex_);
  if (!standing_.watched) throw Error(Trouble::request, "not_found", "there is nothing here", "load the page again");
  const Rig& rig = standing_.rig ? *standing_.rig : *standing_.watched;
  PictureOf of;
  of.as_of = utc_day(now_unix_s());
  of.rig = rig.name;
  return titled(rig_picture(rig, standing_.rig.has_value(), viewer.words()), of, viewer.words());
}

/// What a rig can do without is offered once all else is there.
Json RigSetupSession::more_in(const Viewer& viewer) const {
  Json more = Json::array();
  if (standing_.next && !is_optional(*standing_.next)) return more;
  const auto offer = [&](const char* what, const std::string& words) {
    const bool wanted = told_.wanted.contains(setup_steps_named(what).front());
    more.push_back({{"what", what},
                    {"wanted", wanted},
                    {"title", wanted ? viewer.texts("setup_without", words) : viewer.texts("setup_also", words)}});
  };
  offer("sensitivity", viewer.texts("setup_also_sensitivity"));
  offer("sweep", viewer.texts("setup_also_sweep"));
  return more;
}

Json RigSetupSession::now(const Viewer& viewer) {
  const std::scoped_lock lock(mutex_);
  const std::string language = viewer.words().language;
  Json now = {{"serial", serial_},
              {"stage", setup_stage_name(stage())},
              {"trouble", (ended_.empty() ? trouble_ : ended_).in(language)},
              {"rig_file", rig_file_.string()},
              {"saved", saved_},
              {"shop", shop_kept_},
              {"known", standing_.watched.has_value()},
              {"listens", has_source()},
              {"files", logger_.empty() ? Json(nullptr) : files_in(logger_, told_, viewer)}};
  now["found"] = said_in(standing_.found, viewer);
  now["told"] = {{"name", told_.name},
                 {"viewing_end", told_.viewing_end},
                 {"full_scale", told_.full_scale},
                 {"sensitivity_a", told_.sensitivity[0]},
                 {"sensitivity_b", told_.sensitivity[1]},
                 {"source", told_.source},
                 {"rate", told_.source_rate},
                 {"channels", told_.source_channels},
                 {"format", told_.source_format},
                 {"weight", told_.weight},
                 {"radius", told_.radius}};
  now["again_of"] = Json::array();
  for (int each = 0; each <= static_cast<int>(SetupStep::known); ++each) {
    const auto step = static_cast<SetupStep>(each);
    if (!told_.recordings.contains(step) && !(step == SetupStep::direction && !told_.top_goes.empty())) continue;
    now["again_of"].push_back({{"what", setup_step_name(step)}, {"title", setup_step_title(step).in(language)}});
  }
  now["more"] = more_in(viewer);
  if (standing_.next) {
    const SetupInstruction asked = instruction_of(*standing_.next, told_);
    now["step"] = setup_step_name(*standing_.next);
    now["title"] = setup_step_title(*standing_.next).in(language);
    now["number"] = is_optional(*standing_.next) ? ""
                                                 : viewer.texts("setup_number", static_cast<int>(*standing_.next) + 1,
                                                                static_cast<int>(SetupStep::known) + 1);
    now["by_hand"] = asked.by_hand.in(language);
    now["act"] = asked.act.in(language);
    now["caution"] = asked.caution.in(language);
    now["driven"] = asked.driven;
  }
  if (standing_.again) {
    const auto [why, instead] = words_of(*standing_.again, viewer.words());
    now["again"] = {{"why", why}, {"instead", instead}};
  }
  if (standing_.proof) now["against"] = said_in(standing_.proof->against, viewer);
  if (standing_.proof) now["unsure"] = standing_.proof->result == ProofResult::unsure;
  now["rig_text"] = standing_.rig_text.in(language);  // as it would be written
  return now;
}

}  // namespace counterspot
