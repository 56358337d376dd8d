#include "console/words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/drawing/instruction_words.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/guide/cautions.hpp"
#include "counterspot/shaft/trial.hpp"
#include "counterspot/tolerance/held_text.hpp"
#include "counterspot/units/measured.hpp"
#include "report/job_text.hpp"
#include "report/step_words.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

Json held_words(const Finding& finding, const Viewer& viewer) {
  Json list = Json::array();
  for (const Held& held : finding.held) {
    const bool doubted = held.verdict == Verdict::within && !finding.held_back.empty();
    const Verdict verdict = doubted ? Verdict::unsure : held.verdict;
    const HeldText shown = held_text(held, viewer.units);
    const auto number = [&](const std::string& text) {
      return fmt::format("{} {}", with_decimal_sign(text, viewer.words()), unbalance_unit(viewer.units));
    };
    list.push_back({{"place", held_place_text(held.place, viewer.words())},
                    {"residual", number(shown.residual)},
                    {"limit", number(shown.limit)},
                    {"percent", std::lround(100.0 * held.residual_kg_m / held.limit_kg_m)},
                    {"verdict", verdict_name(verdict)},
                    {"verdict_words", verdict_text(verdict, viewer.words())}});
  }
  return list;
}

/// Where the page finds the picture of a plane's face; the number of entries keeps an old one from being shown.
Json face_of(const FittedWeight& piece, const KnownJob& known, Base base, const Viewer& viewer,
             const std::string& way) {
  return pictures_at(
      fmt::format("/face.svg?plane={}&base={}&way={}&entries={}&units={}&", piece.plane,
                  base == Base::bare ? "bare" : "as_spun", way, known.job.events.size(), viewer.units_name()),
      viewer);
}

}  // namespace

Json piece_words(const FittedWeight& piece, const KnownJob& known, Base base, const Viewer& viewer,
                 const std::string& way) {
  const Shaft shaft = known.job.shaft();
  const JobState state = state_of(known.job.events);
  const std::optional<double> speed_rad_s =
      state.spins.empty() ? std::optional<double>() : state.spins.back().spun.speed_rad_s;
  Json words = piece_at(piece, known.job.rig(), shaft, speed_rad_s, viewer);
  words["face"] = face_of(piece, known, base, viewer, way);
  return words;
}

Json piece_at(const FittedWeight& piece, const Rig& rig, const Shaft& shaft, const std::optional<double>& speed_rad_s,
              const Viewer& viewer) {
  const PageWords& texts = viewer.texts;
  const std::optional<double> diameter =
      shaft.tube ? std::optional(shaft.tube->outside_diameter_m) : std::optional<double>();
  const Spot spot = spot_at(piece.angle_rad, rig.rotation, diameter);
  const std::string& plane = shaft.planes[static_cast<std::size_t>(piece.plane)].name;
  const std::string mass =
      piece.mass_kg != 0.0 ? with_decimal_sign(mass_text(piece.mass_kg, viewer.units), viewer.words()) : "";
  std::string where = texts("seen_from", rig.viewing_end, tape_and_angle_text(spot, viewer.units, viewer.words()),
                            tape_text(piece.radius_m, viewer.units));
  if (piece.mass_kg > 0.0 && speed_rad_s)
    where +=
        texts("pulls", with_decimal_sign(force_text(pull_N(piece.mass_kg, piece.radius_m, *speed_rad_s), viewer.units),
                                         viewer.words()));
  return {{"plane", plane},
          {"mass", mass},
          {"clock", spot.clock.text()},
          {"where", where},
          {"face_words", texts("face_of", plane, mass.empty() ? texts("the_weight") : mass, spot.clock.text())}};
}

namespace {

Json pieces_words(const std::vector<FittedWeight>& pieces, const KnownJob& known, const Viewer& viewer,
                  Base base = Base::as_spun) {
  Json list = Json::array();
  for (const FittedWeight& piece : pieces) list.push_back(piece_words(piece, known, base, viewer));
  return list;
}

std::string expected_words(double over_limit, const Viewer& viewer) {
  return say(viewer.words().instruction().expected, viewer.number(100.0 * over_limit, 0));
}

/// The choices where trial weights are on, the usual one first; the other only where it leads anywhere.
Json choices_of(const NextStep& step, const KnownJob& known, const Viewer& viewer) {
  if (!step.instead) return Json::array();
  const std::vector<FittedWeight> on = state_of(known.job.events).on_shaft;
  std::vector<FittedWeight> trials;
  for (int number : step.instead->take_off) trials.push_back(on.at(static_cast<std::size_t>(number - 1)));
  Json choices = Json::array();
  choices.push_back({{"base", "bare"},
                     {"words", viewer.texts("trials_off")},
                     {"take_off", pieces_words(trials, known, viewer)},
                     {"fit", pieces_words(step.instead->pieces, known, viewer, Base::bare)},
                     {"expected", expected_words(step.instead->expected_over_limit, viewer)}});
  if (!step.pieces.empty())
    choices.push_back(
        {{"base", "as_spun"},
         {"words", viewer.texts("trials_on")},
         {"take_off", Json::array()},
         {"fit", pieces_words(step.pieces, known, viewer)},
         {"expected", step.expected_over_limit ? expected_words(*step.expected_over_limit, viewer) : ""}});
  return choices;
}

}  // namespace

std::string caution_words(const Viewer& viewer) {
  return fmt::format("{}", fmt::join(viewer.words().instruction().caution_lines, " "));
}

Json band_words(const SpinRequest& request, const Viewer& viewer) {
  const PageWords& texts = viewer.texts;
  const bool narrow = request.high_rad_s < 1.05 * request.low_rad_s;
  const double middle_rad_s = 0.5 * (request.low_rad_s + request.high_rad_s);
  return {
      {"low_rpm", rpm(request.low_rad_s)},
      {"high_rpm", rpm(request.high_rad_s)},
      {"safe_rpm", rpm_or_null(request.safe_rad_s)},
      {"words", narrow ? texts("wanted_speed", viewer.speed(middle_rad_s))
                       : texts("wanted_from", viewer.speed(request.low_rad_s))},
      {"safe", request.safe_rad_s ? texts("never_above", viewer.speed(*request.safe_rad_s)) : texts("safe_unknown")}};
}

namespace {

/// Of the spin that the next step answers to; nothing once something was done about it.
Json warned_of(const Job& job, const Viewer& viewer) {
  const JobState state = state_of(job.events);
  if (state.spins.empty() || state.last_change > state.spins.back().number) return Json::array();
  return noticed_words(state.spins.back().spun.warnings, viewer);
}

}  // namespace

/// What asks for nothing stands in the history: said here too, it would teach people not to read the rest.
Json noticed_words(const std::vector<SaidWarning>& said_then, const Viewer& viewer) {
  Json list = Json::array();
  for (const Warning& warning : gathered(warnings_of(said_then))) {
    if (severity_of(warning.code) == Severity::note) continue;
    list.push_back({{"code", warning_code(warning.code)},
                    {"words", warning_text(warning, viewer.words())},
                    {"grave", holds_back(warning.code)}});
  }
  return list;
}

void add_words(Json& screen, const KnownJob& known, const SpinRequest& request, const Viewer& viewer) {
  const NextStep step = known.next();
  const JobState state = state_of(known.job.events);
  const auto finding = finding_of(known.analysis);
  screen["title"] = viewer.words().instruction().title_of(step.kind);
  screen["shaft"] = known.job.shaft().id;
  screen["band"] = band_words(request, viewer);
  screen["fit"] = pieces_words(step.pieces, known, viewer);
  if (step.trials.size() == step.pieces.size())
    for (std::size_t i = 0; i < step.trials.size(); ++i)
      if (const auto* planned = std::get_if<PlannedTrial>(&step.trials[i].plan); planned && !planned->kind.empty())
        screen["fit"][i]["what"] = viewer.texts("stock_of", planned->kind);
  screen["choices"] = choices_of(step, known, viewer);
  screen["on"] = pieces_words(state.on_shaft, known, viewer);
  screen["result"] = finding ? held_words(*finding, viewer) : Json::array();
  screen["taught"] = finding && finding->used_prior ? Json(taught_text(*finding, viewer.words())) : Json(nullptr);
  screen["held_back"] = finding ? viewer.told(json_of(finding->held_back)) : Json::array();
  screen["why"] = step.kind == StepKind::mend         ? Json(step_words(step, known, viewer.words()).details)
                  : step.kind == StepKind::say_fitted ? Json{step_words(step, known, viewer.words()).words}
                                                      : Json::array();
  screen["take_back"] = or_null(step.take_back);
  screen["warned"] = warned_of(known.job, viewer);
  screen["cautions"] = wants_hands(step.kind) ? Json(caution_words(viewer)) : Json(nullptr);
  screen["last_entry"] =
      known.job.events.empty() ? Json(nullptr) : Json(heading_of(known.job.events.back().what, viewer.words()));
  Json planes = Json::array();
  for (const Plane& plane : known.job.shaft().planes) planes.push_back(plane.name);
  screen["planes"] = planes;
  if (!finding) return;
  screen["percent"] = std::lround(100.0 * finding->worst_ratio());
}

Json words_of(const JobOverview& line, const Viewer& viewer) {
  return {{"job", line.name},
          {"rig", line.rig},
          {"family", line.family},
          {"opened", local_minute(line.opened_unix_s)},
          {"closed", line.closed_unix_s ? Json(local_minute(*line.closed_unix_s)) : Json(nullptr)},
          {"spins", line.spins},
          {"verdict", line.verdict ? Json(verdict_text(*line.verdict, viewer.words())) : Json(nullptr)},
          {"percent", line.worst_ratio ? Json(std::lround(100.0 * *line.worst_ratio)) : Json(nullptr)}};
}

Json words_of(const Job& job, const Viewer& viewer) {
  const JobState state = state_of(job.events);
  const Shaft shaft = job.shaft();
  Json entries = Json::array();
  for (const Event& event : job.events) {
    entries.push_back({{"number", event.number},
                       {"at", local_minute(event.at_unix_s)},
                       {"heading", heading_of(event.what, viewer.words())},
                       {"counts", !state.taken_back.contains(event.number)},
                       {"may_be_taken_back", state.open && !state.taken_back.contains(event.number) &&
                                                 !std::holds_alternative<TakenBack>(event.what) &&
                                                 !std::holds_alternative<Signed>(event.what)},
                       {"lines", lines_of(event.what, shaft, viewer.units, viewer.words())}});
  }
  return {{"job", job.name},
          {"shaft", shaft.id},
          {"rig", job.rig().name},
          {"opened", local_minute(job.opened_unix_s)},
          {"open", state.open},
          {"count", job.events.size()},
          {"order", json_of(order_of(job))},
          {"entries", entries}};
}

namespace {

std::string amplitude_words(const OrderVector& vector, double unit, const Viewer& viewer) {
  return measured_text(vector.amplitude() / unit, coverage_factor * vector.u_amplitude() / unit, viewer.words());
}

Json part_words(const RigPart& part) {
  Json rows = Json::array();
  for (const auto& [what, known] : part.rows) rows.push_back({what, known});
  return {{"heading", part.heading}, {"rows", rows}};
}

}  // namespace

Json words_of(const RigShown& shown, const std::optional<RigPart>& advice, const Viewer& viewer) {
  Json parts = Json::array();
  for (const RigPart& part : parts_of(shown, viewer.words())) parts.push_back(part_words(part));
  return {{"rig", shown.rig},
          {"heading", heading_of(shown, viewer.words())},
          {"look_at", sentences_of(shown, viewer.words())},
          {"advice", advice ? part_words(*advice) : Json(nullptr)},
          {"parts", parts},
          {"cautions", advice ? Json(caution_words(viewer)) : Json(nullptr)},
          {"picture", pictures_at("/rig-model.svg?", viewer)},
          {"picture_words", viewer.texts("picture_learnt")}};
}

Json words_of(const std::vector<TrendGroup>& trend, const Viewer& viewer) {
  Json list = Json::array();
  for (const TrendGroup& line : trend) {
    list.push_back(
        {{"group", line.group},
         {"closed", line.closed},
         {"within", line.within},
         {"yield", viewer.number(100.0 * line.yield_fraction(), 0) + " %"},
         {"spins", viewer.number(line.median_spins, 1)},
         {"residual", line.median_ratio ? viewer.texts("percent_of_limit", viewer.number(100.0 * *line.median_ratio, 0))
                                        : viewer.texts("none")}});
  }
  return list;
}

Json words_of(const SpinInspection& inspection, const std::string& name, const Viewer& viewer) {
  const PageWords& texts = viewer.texts;
  const auto plain = [&](double value) { return with_decimal_sign(fmt::format("{:g}", value), viewer.words()); };
  const RecordingInfo& info = inspection.recording->info();
  Json lines = Json::array();
  lines.push_back(texts("recording_is", info.format, info.channels.size(), plain(info.sample_rate_Hz),
                        viewer.number(inspection.recording->duration_s(), 1)));
  lines.push_back(texts("tach", inspection.tach_health()));
  for (const SensorHealth& sensor : inspection.sensors)
    lines.push_back(texts("sensor_rms", sensor.name,
                          with_decimal_sign(fmt::format("{:.4g}", sensor.rms), viewer.words()), sensor.unit,
                          sensor.health));
  Json vectors = Json::array();
  if (inspection.track) {
    lines.insert(lines.begin() + 1, texts("speed_turns", viewer.number(rpm(inspection.track->speed_rad_s), 1),
                                          inspection.track->revolutions));
    for (const SensorTrack& sensor : inspection.track->sensors) {
      const OrderVector& vector = sensor.orders.front();
      const double unit = si_per_display_unit(sensor.motion);
      vectors.push_back({{"sensor", sensor.name},
                         {"unit", display_unit(sensor.motion)},
                         {"amplitude", vector.amplitude() / unit},
                         {"u_amplitude", vector.u_amplitude() / unit},
                         {"phase_lag_deg", vector.phase_lag_deg()},
                         {"words", texts("order_1", sensor.name, amplitude_words(vector, unit, viewer),
                                         display_unit(sensor.motion), viewer.number(vector.phase_lag_deg(), 1))}});
    }
  }
  Json warnings = Json::array();
  for (const std::string& line : lines_of(inspection.warnings, viewer.words())) warnings.push_back(line);
  return {{"file", name},
          {"usable", inspection.track.has_value()},
          {"speed_rpm", inspection.track ? Json(rpm(inspection.track->speed_rad_s)) : Json(nullptr)},
          {"lines", lines},
          {"vectors", vectors},
          {"trouble", inspection.trouble ? json_of(*inspection.trouble) : Json(nullptr)},
          {"warnings", warnings}};
}

Json words_of_health(const RecorderView& live, const Rig& rig, const std::vector<Repeatability>& repeated,
                     const Viewer& viewer) {
  const PageWords& texts = viewer.texts;
  Json lines = Json::array();
  lines.push_back(texts("the_rig", rig.name));
  lines.push_back(live.source.empty() ? texts("uploads") : texts("live_from", live.source));
  if (!live.trouble.empty()) lines.push_back(texts("trouble", live.trouble.in(viewer.words().language)));
  if (live.overruns == 0) lines.push_back(texts("none_lost"));
  for (const Warning& warning : live.warnings) lines.push_back(texts("warning", meaning_text(warning, viewer.words())));
  for (std::size_t i = 0; i < live.levels.size(); ++i) {
    lines.push_back(texts("level", i < rig.sensors.size() ? texts("sensor", rig.sensors[i].name) : texts("the_tach"),
                          viewer.number(100.0 * live.levels[i], 1)));
  }
  for (const Repeatability& each : repeated) {
    const std::string deviation = significant_text(each.deviation_si / si_per_display_unit(each.motion), 2);
    lines.push_back(texts("repeats", each.sensor, with_decimal_sign(deviation, viewer.words()),
                          display_unit(each.motion), each.degrees_of_freedom));
  }
  if (live.cut_off > 0) lines.push_back(texts("cut_off", live.cut_off));
  return {{"lines", lines},
          {"overruns", live.overruns},
          {"frames_captured", live.frames_captured},
          {"warnings", viewer.told(json_of(live.warnings))}};
}

namespace {

constexpr double narrow_band = 0.1;  // of its speed: a speed is wanted, not any speed
constexpr double gauge_part = 0.2;   // of the wanted speed, to either side

bool one_speed_wanted(const SpinRequest& request) {
  return request.high_rad_s - request.low_rad_s < narrow_band * request.low_rad_s;
}

/// Where things are on a scale from 0 to 100: about the wanted speed, or up to the safe one where any will do.
Json gauge_of(const SpinRequest& request, double speed_rad_s) {
  const double wanted = 0.5 * (request.low_rad_s + request.high_rad_s);
  const bool about = one_speed_wanted(request);
  const double begin = about ? (1.0 - gauge_part) * wanted : 0.0;
  const double end =
      about ? (1.0 + gauge_part) * wanted : 1.25 * request.safe_rad_s.value_or(std::max(1.2 * request.low_rad_s, 1.0));
  auto place = [&](double rad_s) {
    return std::round(10.0 * std::clamp(100.0 * (rad_s - begin) / (end - begin), 0.0, 100.0)) / 10.0;
  };
  const double danger = request.safe_rad_s ? place(*request.safe_rad_s) : 100.0;
  constexpr double least_width = 2.0;  // to be seen beside the pointer
  const double low = place(request.low_rad_s);
  const double width = std::max(least_width, place(std::min(request.high_rad_s, end)) - low);
  const double from = width > least_width ? low : place(0.5 * (request.low_rad_s + request.high_rad_s)) - 0.5 * width;
  return {{"band_from", from},
          {"band_width", width},
          {"danger_from", danger},
          {"danger_width", 100.0 - danger},
          {"now", std::min(99.5, place(speed_rad_s))}};
}

/// What is to be known of the rig at one moment: the view, and how old it is.
struct Seen {
  const RecorderView& view;
  double age_s;
  const Viewer& viewer;
  const PageWords& texts = viewer.texts;

  bool live() const { return !view.source.empty(); }
  bool old() const { return live() && age_s > old_s; }
  Turning turning() const { return old() ? Turning::unknown : view.reading.motion.turning; }
  /// Hands are wanted on the shaft, and nothing shows that it stands. Without a live source nobody but the operator
  /// can.
  /// Knocks shake the sensors, so while they are recorded only a shaft that is seen to turn keeps hands away.
  bool hands_off() const {
    if (!live()) return false;
    if (view.request.knocks) return old() || turning() == Turning::turning;
    return view.request.stand && turning() != Turning::standing;
  }
};

std::string no_news(const Seen& seen) {
  const std::string words = seen.texts("no_rig_news", seen.viewer.number(std::floor(seen.age_s), 0));
  return seen.view.trouble.empty() ? words : words + ": " + seen.view.trouble.in(seen.viewer.words().language);
}

std::string shaft_told(const Seen& seen) {
  const ShaftMotion& motion = seen.view.reading.motion;
  const std::string words = seen.texts.motion(motion);
  return motion.tach_lost ? seen.texts("stop_and_keep_away", words) : words;
}

/// How far it is from the speed that is wanted.
std::string way_to_speed(const Seen& seen) {
  const SpinRequest& request = seen.view.request;
  const double now = seen.view.reading.speed_rad_s;
  if (!one_speed_wanted(request) || now <= 0.0) return seen.texts("to_speed");
  const double lacking = 0.5 * (request.low_rad_s + request.high_rad_s) - now;
  return seen.texts(lacking > 0.0 ? "faster" : "slower", seen.viewer.speed(std::abs(lacking)));
}

/// What the recorder is at, in words.
std::string told_of(const Seen& seen) {
  const RecorderView& view = seen.view;
  if (!seen.live()) return seen.texts(view.request.stand ? "no_live_look" : "no_live");
  if (seen.old()) return no_news(seen);
  if (!view.trouble.empty()) return view.trouble.in(seen.viewer.words().language);
  const bool turning = seen.turning() == Turning::turning;
  switch (view.phase) {
    case Phase::idle: return shaft_told(seen);
    case Phase::spin_up:
      if (turning) return way_to_speed(seen);
      return view.reading.motion.tach_lost ? shaft_told(seen) : seen.texts("start_rig");
    case Phase::hold: return seen.texts("hold");
    case Phase::too_fast: return seen.texts("too_fast_slow");
    case Phase::recording: return seen.texts(view.request.knocks ? "knock_recording" : "recording");
    case Phase::measuring: return seen.texts("working") + (turning ? "" : "; " + shaft_told(seen));
  }
  return "";
}

/// What stands in the instruction's place while hands are not to go near.
std::string title_of(const Seen& seen) {
  if (!seen.hands_off()) return "";
  if (seen.old()) return seen.texts("no_news_title");
  if (seen.turning() == Turning::turning) return seen.texts("stop_rig");
  return seen.texts(seen.view.reading.motion.tach_lost ? "tach_lost_title" : "may_be_turning_title");
}

Json alarm_of(const Seen& seen) {
  const RecorderView& view = seen.view;
  if (view.phase != Phase::too_fast || !view.request.safe_rad_s) return nullptr;
  const double now_rad_s = view.reading.speed_rad_s;
  const double shown_rad_s = now_rad_s > 0.0 ? now_rad_s : view.reading.motion.last_speed_rad_s;
  std::string more =
      seen.texts("slow_down", seen.viewer.speed(shown_rad_s), seen.viewer.speed(*view.request.safe_rad_s));
  if (seen.old() || view.reading.motion.tach_lost) more += "; " + (seen.old() ? no_news(seen) : shaft_told(seen));
  return {{"words", seen.texts("too_fast")}, {"more", more}};
}

/// For the pages that show something else.
std::string sign_of(const Seen& seen) {
  if (!seen.live()) return "";
  if (seen.old()) return seen.texts("may_be_turning_after", no_news(seen));
  if (seen.turning() != Turning::turning) return shaft_told(seen);
  return seen.texts("turning_at", seen.viewer.speed(seen.view.reading.speed_rad_s));
}

/// A level on a logarithmic scale of 80 dB, on which a good signal is seen as well as one that is too large.
double bar_of(double fraction) {
  constexpr double shown_dB = 80.0;
  return fraction > 0.0 ? std::clamp(1.0 + 20.0 * std::log10(fraction) / shown_dB, 0.0, 1.0) : 0.0;
}

}  // namespace

Json live_event(const RecorderView& view, const Rig& rig, const Viewer& viewer) {
  const Seen seen{view, view.age_s(RecorderView::Clock::now()), viewer};
  const LiveReading& now = view.reading;
  Json levels = Json::array();
  for (std::size_t i = 0; i < view.levels.size(); ++i)
    levels.push_back({{"name", i < rig.sensors.size() ? rig.sensors[i].name : viewer.texts("the_tach")},
                      {"fraction", view.levels[i]},
                      {"bar", bar_of(view.levels[i])}});
  Warnings noticed = view.warnings;
  // A sensor that gives nothing is said at its face: what is to be looked at lies beside a shaft that turns.
  for (const Warning& warning : now.health)
    if (!seen.old() && warning.code != WarningCode::dead_channel && warning.code != WarningCode::quiet_channel)
      noticed.push_back(warning);
  const std::string told = told_of(seen);
  const double left = std::max(0.0, view.request.seconds - view.recorded_s);
  const bool counting = !seen.old() && view.trouble.empty() && view.phase == Phase::recording;
  return {{"serial", view.request.serial},
          {"phase", seen.old() ? "no_news" : phase_name(view.phase)},
          {"trouble", !view.trouble.empty() || seen.old() || !seen.live()},
          {"live", seen.live()},
          {"old", seen.old()},
          {"news_age_s", seen.live() ? seen.age_s : 0.0},
          {"motion", turning_name(seen.turning())},
          {"tach_lost", seen.live() && now.motion.tach_lost},
          {"standing", seen.live() && seen.turning() == Turning::standing},
          {"may_confirm", seen.live() && !seen.old() && now.motion.may_be_confirmed},
          {"wants_hands", view.request.stand || view.request.knocks},
          {"hands_off", seen.hands_off()},
          {"title", title_of(seen)},
          {"alarm", alarm_of(seen)},
          {"sign", sign_of(seen)},
          {"speed_rpm", rpm(now.speed_rad_s)},
          {"speed", seen.turning() == Turning::unknown && now.speed_rad_s == 0.0 ? std::string("?")
                                                                                 : viewer.speed(now.speed_rad_s)},
          {"at_s", now.at_s},
          {"age_s", now.newest_s - now.at_s},
          {"told", told},
          {"said", counting ? viewer.texts("to_go", told, viewer.number(left, 0)) : told},
          {"stop_first", (view.request.stand || view.request.knocks) && seen.turning() == Turning::turning},
          {"gauge", gauge_of(view.request, now.speed_rad_s)},
          {"progress", view.request.seconds > 0.0 ? view.recorded_s / view.request.seconds : 0.0},
          {"levels", levels},
          {"overruns", view.overruns},
          {"warnings", viewer.told(json_of(gathered(noticed)))}};
}

}  // namespace counterspot
