#include "console/rig_setup_session.hpp"

#include <algorithm>
#include <cmath>

#include "console/replies.hpp"
#include "counterspot/drawing/drawing_rig_setup.hpp"
#include "counterspot/drawing/titled.hpp"
#include "counterspot/log/log.hpp"
#include "counterspot/units/error.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

constexpr double shown_every_s = 0.2;
constexpr double unheard_s = 2.0;
constexpr double lowest_dB = -100.0;  // of the bars

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

/// An error's code has words in every language.
Json again_in(const Again& again, const Viewer& viewer) {
  const std::string language = viewer.words().language;
  if (again.code.empty()) return {{"why", again.why.in(language)}, {"instead", again.instead.in(language)}};
  return {{"why", meaning_text(again.code, again.why.en, {}, viewer.words())},
          {"instead", remedy_text(again.code, again.instead.en, viewer.words())}};
}

std::string word_in(const Json& said, const char* key) {
  return said.value(key, std::string());
}

Error step_moved_on() {
  return {Trouble::request, "job_moved_on", "something else is asked for by now",
          "look at what is asked for now, and do that"};
}

bool wants_hands(const SetupInstruction& asked) {
  return !asked.by_hand.empty() || !asked.driven;
}

}  // namespace

const char* setup_stage_name(SetupStage stage) {
  switch (stage) {
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
    : rig_file_(rig_file_in(options.folder)),
      live_(open_live(options.source, options.live)),
      told_(setup_beside(rig_file_)),
      watch_(live_->info()),
      heard_(Clock::now()),
      peaks_(live_->info().channels.size()) {
  {
    const std::scoped_lock lock(mutex_);
    find();
  }
  thread_ = std::jthread([this] { run(); });
}

RigSetupSession::~RigSetupSession() {
  live_->stop();
}

/// The outermost place of this thread: what fails is said.
void RigSetupSession::run() {
  const std::string trouble = trouble_in([this] {
    for (;;) {
      const auto block = live_->next(1024);
      if (block.empty()) break;
      const std::scoped_lock lock(mutex_);
      push(block);
    }
  });
  const std::scoped_lock lock(mutex_);
  writer_.reset();
  ended_ = trouble.empty() ? "the live source has ended" : trouble;
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
  watch_.push(samples);
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
  if (writer_) {
    const std::string trouble = trouble_in([&] { writer_->write(samples); });
    if (!trouble.empty() || live_->overrun_count() != overruns_before_) {
      writer_.reset();
      trouble_ = trouble.empty() ? "samples were lost while it was recorded: do the same again" : trouble;
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
    const std::string trouble = trouble_in([&] {
      standing = standing_of(told);
      if (told.recordings.contains(SetupStep::rest)) rest = open_recording(told.recordings.at(SetupStep::rest));
    });
    const std::scoped_lock lock(mutex_);
    finding_ = false;
    trouble_ = trouble.empty() ? trouble_in([&] {
      if (rest) watch_.know_rest(*rest);
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
  watch_.know_rig(standing_.watched);
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
  const SetupInstruction asked = instruction_of(*standing_.next, told_);
  const bool done = asked.by_hand.empty() || hands_did_ == asked.by_hand.en;
  if (wants_hands(asked) && !(done && asked.driven)) {
    if (silent() || watch_.motion() != SetupMotion::standing) return SetupStage::stand;
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

void RigSetupSession::stands() {
  const std::scoped_lock lock(mutex_);
  watch_.confirm();
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
  if (!ended_.empty())
    throw Error(Trouble::recording, "source_ended", "nothing can be recorded: " + ended_,
                "mend the source, and start the page again");
  const SetupInstruction asked = instruction_of(*standing_.next, told_);
  recording_step_ = *standing_.next;
  recording_ = next_setup_recording(rig_file_, recording_step_, live_->info().full_scale);
  writer_.emplace(recording_, live_->info());
  wanted_s_ = asked.seconds;
  overruns_before_ = live_->overrun_count();
  trouble_.clear();
  if (asked.driven) {
    watch_.forget();
    hands_did_.clear();
  }
  ++serial_;
  news();
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
  watch_.forget();
  hands_did_.clear();
  saved_ = false;
  find();
}

void RigSetupSession::save(const Json& said) {
  const std::scoped_lock lock(mutex_);
  if (stage() == SetupStage::proved) saved_ = write_proved(standing_, rig_file_, false, {}, word_in(said, "language"));
  ++serial_;
  news();
}

void RigSetupSession::wait(std::uint64_t& seen, double seconds) {
  std::unique_lock lock(mutex_);
  changed_.wait_for(lock, std::chrono::duration<double>(seconds), [&] { return news_ != seen; });
  seen = news_;
}

Json RigSetupSession::live(const Viewer& viewer) {
  const std::scoped_lock lock(mutex_);
  const RecordingInfo& info = live_->info();
  Json levels = Json::array();
  for (std::size_t c = 0; c < levels_.size(); ++c) {
    const double dB = 20.0 * std::log10(std::max(levels_[c], 1e-9));
    const std::string name = info.full_scale ? viewer.texts("setup_channel", c + 1) : info.channels[c].name;
    levels.push_back({{"name", name},
                      {"bar", std::clamp(1.0 - dB / lowest_dB, 0.0, 1.0)},
                      {"words", viewer.number(dB, 0) + " dB"},
                      {"full", info.full_scale && levels_[c] > 0.98}});
  }
  const double recorded_s = writer_ ? static_cast<double>(writer_->frames()) / info.sample_rate_Hz : 0.0;
  const SetupMotion motion = silent() ? SetupMotion::unheard : watch_.motion();
  return {{"serial", serial_},
          {"stage", setup_stage_name(stage())},
          {"old", silent()},
          {"levels", levels},
          {"progress", wanted_s_ > 0.0 ? recorded_s / wanted_s_ : 0.0},
          {"may_confirm", motion == SetupMotion::asked},
          {"motion", motion == SetupMotion::moving    ? viewer.texts("setup_moving")
                     : motion == SetupMotion::unheard ? viewer.texts("setup_unheard")
                     : motion == SetupMotion::asked   ? viewer.texts("setup_quiet")
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
              {"trouble", ended_.empty() ? trouble_ : ended_},
              {"rig_file", rig_file_.string()},
              {"saved", saved_},
              {"known", standing_.watched.has_value()}};
  now["found"] = said_in(standing_.found, viewer);
  now["told"] = {{"name", told_.name},
                 {"viewing_end", told_.viewing_end},
                 {"full_scale", told_.full_scale},
                 {"sensitivity_a", told_.sensitivity[0]},
                 {"sensitivity_b", told_.sensitivity[1]},
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
  if (standing_.again) now["again"] = again_in(*standing_.again, viewer);
  if (standing_.proof) now["against"] = said_in(standing_.proof->against, viewer);
  if (standing_.proof) now["unsure"] = standing_.proof->result == ProofResult::unsure;
  now["rig_text"] = standing_.rig_text.in(language);  // as it would be written
  return now;
}

}  // namespace counterspot
