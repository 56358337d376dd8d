#include "counterspot/guide/guide.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "counterspot/guide/rig_guide.hpp"
#include "counterspot/guide/rig_teaching.hpp"
#include "counterspot/placement/placement.hpp"
#include "counterspot/placement/shop_words.hpp"
#include "counterspot/recording/recording.hpp"
#include "counterspot/tracking/tracking.hpp"
#include "counterspot/units/error.hpp"
#include "files/text_file.hpp"
#include "job/recording_again.hpp"
#include "log/sha256.hpp"

namespace counterspot {

namespace {

constexpr int jobs_to_look_at = 60;

Error bad_piece(const std::string& text) {
  return {Trouble::request, "bad_piece", fmt::format("'{}' is not a piece", text),
          "write plane, mass and place, as in \"A 12.5 g @ 138.4 deg\", \"A 12.5 g @ 4:37\" or "
          "\"A 12.5 g @ 138.4 deg, radius 41 mm\""};
}

double angle_of(const std::string& text, const Rig& rig) {
  if (text.find(':') == std::string::npos) return parse_quantity(text, Dimension::angle);
  return shaft_angle_of_clock(parse_clock(text), rig.rotation);
}

/// A job that was given up may be done again from its recordings; one that stands is evidence of its own shaft.
bool counts_in(const Job& job, int number) {
  const JobState state = state_of(job.events);
  const bool given_up = state.closing && !std::get<Closed>(job.events.at(*state.closing - 1U).what).final_spin;
  return !given_up && std::any_of(state.spins.begin(), state.spins.end(),
                                  [&](const StandingSpin& spin) { return spin.number == number; });
}

void refuse_recording_of_other_job(const Log& log, const Job& seen, const Spun& spun) {
  if (spun.sha256.empty()) return;
  for (const auto& [name, number] : log.entries_of_recording(spun.sha256)) {
    if (name == seen.name || !counts_in(log.job(name), number)) continue;
    throw Error(
        Trouble::recording, "same_recording", fmt::format("this recording is entry {} of job {} already", number, name),
        fmt::format("enter the recording of this spin; if it does not belong to {}, take it back there: job back "
                    "{} --job {} --reason …",
                    name, number, name));
  }
}

/// What must be said before a statement is kept, unless it was said already.
void ask_once(const StatedFit& stated, const KnownJob& known, const JobState& state, const NextStep& asked) {
  const auto& before = state.on_shaft;
  const auto& after = stated.on_shaft;
  const bool unchanged = std::is_permutation(before.begin(), before.end(), after.begin(), after.end());
  if (asked.kind == StepKind::say_fitted && !stated.was_on && !unchanged) {
    throw Error(Trouble::request, "reading_moved",
                "the reading moved before this was stated, so it must be known when it was fitted",
                "if it was on in the last spin, say so with --was-on; if not, first say that nothing was changed, with "
                "--unchanged");
  }
  if (stated.as_typed) return;
  const auto unlike = unlike_asked(asked, before, after, known.job.rig(), known.job.shaft());
  if (!unlike) return;
  throw Error(Trouble::request, warning_code(unlike->code), unlike->message + ". Is it so?",
              "look at what was typed; if it is so, say it again with --as-typed");
}

std::vector<int> last_spin_of(const JobState& state) {
  if (!state.spins.empty() && state.last_stated.value_or(0) < state.spins.back().number)
    return {state.spins.back().number};
  throw Error(Trouble::request, "no_spin", "there is no spin since it was last stated what is on the shaft",
              "leave --was-on out");
}

}  // namespace

KnownJob known_job(const Log& log, Job job) {
  KnownJob known{std::move(job), {}, {}};
  const auto planes = static_cast<int>(known.job.shaft().planes.size());
  const Rig rig = known.job.rig();
  const std::vector<Job> past = log.jobs_to_learn_from(rig.name, planes, jobs_to_look_at);
  known.prior = prior_from(JobsInLog(log, {known.job.uid}), spins_of(known.job));
  RigKnowledge of_rig = knowledge_of_rig(log, rig.name);
  learn_from(spins_of(past), rig, known.job.uid, of_rig);
  known.analysis = analyse(known.job, known.prior, of_rig);
  return known;
}

namespace {

/// Of a folder without the stroke that may stand behind its name.
std::string path_to_keep(const std::filesystem::path& file) {
  const auto path = std::filesystem::absolute(file).lexically_normal();
  return (path.has_filename() ? path : path.parent_path()).string();
}

}  // namespace

KeptFile kept_file(const std::filesystem::path& file) {
  return {std::filesystem::absolute(file).lexically_normal().string(), text_of_file(file)};
}

Spun measured_spin(const std::filesystem::path& file, const Rig& rig, const Shaft& shaft) {
  Sha256 hash_of_input;
  const bool piped = file == "-";
  RecordingOptions options = recording_options(rig);
  if (piped) options.watch_input = [&](std::span<const char> bytes) { hash_of_input.add(bytes); };
  Track tracked = track(*open_recording(file, options), rig, with_order_2());
  if (piped) read_rest_of_input(options.watch_input);
  if (auto joints = joints_and_order_2(tracked.warnings, shaft)) tracked.warnings.push_back(std::move(*joints));
  Spun spun;
  for (const SensorTrack& sensor : tracked.sensors) {
    const OrderVector& vector = sensor.orders.front();
    spun.readings.push_back({sensor.name, sensor.motion, vector.value, vector.covariance, {sensor.bands, sensor.step}});
  }
  spun.speed_rad_s = tracked.speed_rad_s;
  spun.speed_drift_fraction = tracked.speed_drift_fraction;
  spun.revolutions = tracked.revolutions;
  spun.duration_s = tracked.duration_s;
  for (const Warning& warning : tracked.warnings)
    spun.warnings.push_back({warning_code(warning.code), warning.sensor.value_or(""), warning.message});
  spun.recording = piped ? "standard input" : path_to_keep(file);
  spun.sha256 = piped ? hash_of_input.text() : sha256_of_recording(file);
  return spun;
}

std::string usual_label(const Job& job) {
  const std::size_t spins = state_of(job.events).spins.size();
  return spins == 0 ? "as found" : fmt::format("spin {}", spins + 1);
}

std::optional<Finding> finding_with(const Log& log, Job job, const Spun& spun) {
  job.events.push_back({static_cast<int>(job.events.size()) + 1, 0, "", spun});
  return finding_of(known_job(log, std::move(job)).analysis);
}

Job keep_spin(Log& log, const Job& seen, Spun spun, const std::string& program, std::int64_t at_unix_s) {
  refuse_recording_again(seen, spun);
  refuse_recording_of_other_job(log, seen, spun);
  spun.finding = finding_with(log, seen, spun);
  return log.append(seen, std::move(spun), program, at_unix_s);
}

FittedWeight parse_piece(const std::string& text, const Rig& rig, const Shaft& shaft) {
  const auto at = text.find('@');
  const auto plane = std::find_if(shaft.planes.begin(), shaft.planes.end(),
                                  [&](const Plane& each) { return text.starts_with(each.name + " "); });
  if (at == std::string::npos || plane == shaft.planes.end()) throw bad_piece(text);
  const std::size_t name = plane->name.size();
  if (at < name) throw bad_piece(text);
  FittedWeight piece{static_cast<int>(plane - shaft.planes.begin()), 0.0, plane->radius_m, 0.0};
  piece.mass_kg = parse_quantity(text.substr(name, at - name), Dimension::mass);
  std::string place = text.substr(at + 1);
  const auto radius = place.find(", radius ");
  if (radius != std::string::npos) {
    piece.radius_m = parse_quantity(place.substr(radius + 9), Dimension::length);
    place.resize(radius);
  }
  piece.angle_rad = angle_of(place, rig);
  return piece;
}

std::vector<FittedWeight> with_trials_off(const JobState& state, const NextStep& step) {
  if (!step.instead) {
    throw Error(Trouble::request, "nothing_asked", "the next step of this job does not take trial weights off",
                "see 'job next', or say what was fitted");
  }
  std::vector<FittedWeight> off;
  for (int number : step.instead->take_off) off.push_back(state.on_shaft.at(static_cast<std::size_t>(number - 1)));
  return pieces_without(state.on_shaft, off);
}

Job keep_fit(Log& log, const KnownJob& known, const StatedFit& stated, const std::string& program,
             std::int64_t at_unix_s) {
  const JobState state = state_of(known.job.events);
  const NextStep asked = known.next();
  ask_once(stated, known, state, asked);
  if (!stated.was_on) return log.append(known.job, Fitted{stated.on_shaft}, program, at_unix_s);
  const std::vector<int> spins = known.analysis.moved ? known.analysis.moved->spins : last_spin_of(state);
  Job job = known.job;
  log.at_once([&] {
    for (int number : spins)
      job = log.append(job, TakenBack{number, "what was on the shaft had not been stated"}, program, at_unix_s);
    job = log.append(job, Fitted{stated.on_shaft}, program, at_unix_s);
    for (int number : spins) {
      Spun again = std::get<Spun>(known.job.events[static_cast<std::size_t>(number - 1)].what);
      again.finding = finding_with(log, job, again);
      job = log.append(job, again, program, at_unix_s);
    }
  });
  return job;
}

Closed closing_of(const KnownJob& known, const std::string& reason) {
  const auto finding = finding_of(known.analysis);
  const auto final_spin = state_of(known.job.events).final_spin();
  if (!final_spin || !finding) return {std::nullopt, std::nullopt, reason};
  return {final_spin, finding, reason};
}

Job close_job(Log& log, const std::string& job, const std::string& reason, const std::string& program,
              std::int64_t at_unix_s) {
  if (!reason.empty())
    if (auto closed = log.close_altered(job, reason, program, at_unix_s)) return std::move(*closed);
  const KnownJob known = known_job(log, log.job(job));
  return log.append(known.job, closing_of(known, reason), program, at_unix_s);
}

Job sign_job(Log& log, const Job& job, const SigningKey& key, const std::string& program, std::int64_t at_unix_s) {
  return log.append(job, signed_with(key, job.seal, at_unix_s), program, at_unix_s);
}

}  // namespace counterspot
