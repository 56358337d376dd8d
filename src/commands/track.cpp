#include <fmt/format.h>

#include <algorithm>
#include <memory>

#include "commands/command.hpp"
#include "commands/documents.hpp"
#include "commands/output.hpp"
#include "commands/picture.hpp"
#include "commands/results.hpp"
#include "commands/stated_options.hpp"
#include "counterspot/drawing/command_words.hpp"
#include "counterspot/drawing/drawing_charts.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/tolerance/tolerance.hpp"
#include "counterspot/tracking/amplitude_track.hpp"
#include "counterspot/tracking/comparison.hpp"
#include "counterspot/tracking/tracking.hpp"
#include "counterspot/units/measured.hpp"
#include "report/text.hpp"

namespace counterspot::commands {

namespace {

struct TrackAsked {
  std::vector<std::string> files;
  std::string rig;
  std::vector<double> orders = {1.0};
  std::string shown_as;
  std::string from;
  std::string to;
  std::string against;
  std::vector<std::string> orbit;
  bool budget = false;
  bool plain = false;
  bool json = false;
  PictureAsked picture;
  ResultsAsked out;
  StatedRecording stated;
  const Words* words = &english();

  std::vector<std::filesystem::path> read() const {
    std::vector<std::filesystem::path> all(files.begin(), files.end());
    all.emplace_back(rig);
    all.emplace_back(against);
    return all;
  }
};

std::string budget_text(const ShownOrder& order, const Words& words) {
  std::string text;
  for (const BudgetItem& item : order.view.budget) {
    const ShownBudgetItem u = shown(item, order);
    text += fmt::format("    {} {:<34} u {:>9.2g}    {:>7.2g} deg{}\n", item.type, item.source, u.u_amplitude,
                        u.u_phase_lag_deg, item.counted ? "" : "    not added");
  }
  return with_decimal_sign(text, words);
}

std::string kind_text(const std::string& kind, const CommandWords& texts) {
  return kind == "peak" ? texts.peak : kind == "rms" ? texts.rms : texts.peak_to_peak;
}

std::string slope_text(const ShownOrder& order, const Track& track, const Words& words) {
  const CommandWords& texts = words.commands();
  const Phasor change = per_percent(order.view, track.speed_rad_s);
  return with_decimal_sign(
      say(texts.slope, fmt::format("{:+.1f}", 100.0 * change.real()), fmt::format("{:+.1f}", degrees(change.imag())),
          order.view.slope.measured ? texts.slope_measured : texts.slope_modelled),
      words);
}

std::string text_of(const Track& track, const Shown& how, bool budget, const Words& words) {
  const CommandWords& texts = words.commands();
  const auto number = [&](double value, int decimals) { return number_text(value, decimals, words); };
  std::string text = say(texts.track_head, track.file,
                         say(texts.turns_of, number(rpm(track.speed_rad_s), 1),
                             number(100.0 * track.speed_drift_fraction, 2), track.revolutions),
                         number(track.duration_s, 2));
  for (const SensorTrack& sensor : track.sensors) {
    for (const OrderVector& vector : sensor.orders) {
      ShownOrder order = shown(vector, sensor, how, track.speed_rad_s);
      text += say(texts.order_line, sensor.name, with_decimal_sign(fmt::format("{}", order.order), words),
                  measured_text(order.amplitude, coverage_factor * order.u_amplitude, words),
                  display_unit(how.motion.value_or(sensor.motion)), kind_text(how.kind, texts),
                  measured_text(order.phase_lag_deg, std::min(180.0, coverage_factor * order.u_phase_lag_deg), words));
      if (budget) text += budget_text(order, words) + slope_text(order, track, words);
    }
  }
  return text;
}

/// Once, after all recordings.
std::string closing_text(std::size_t files, const CommandWords& texts) {
  return (files > 1 ? "" : "\n") + std::string(texts.holds_for) +
         say(texts.next, files > 1 ? texts.add_recordings : texts.add_recording);
}

std::string text_of(const AmplitudeTrack& track, const Rig& rig, const std::string& file, const Shown& how) {
  std::string text = fmt::format("{}\n{:.1f} rpm by the signal of the speed, {:.2f} s\n\n", file,
                                 rpm(track.speed_rad_s), track.duration_s);
  for (std::size_t s = 0; s < track.amplitudes.size(); ++s) {
    const ShownOrder order = shown(track, s, how);
    text += fmt::format("SENSOR {:<4} order 1   {:>17} {} {}    {:+.1f} % over the spin\n", rig.sensors[s].name,
                        measured_text(order.amplitude, coverage_factor * order.u_amplitude),
                        display_unit(how.motion.value_or(track.motions[s])), how.kind, 100.0 * track.changes[s]);
  }
  return text +
         "\nno phase: a signal of the speed shows no angle, so no correction follows from this alone.\n"
         "± holds for 95 % of cases (k = 2).\nNEXT  Fit one mark and a tach, or add this recording to spins.toml and "
         "solve --no-phase.\n";
}

/// With a signal of the speed in place of a tach. @throws Error(request, "no_phase") if more than that is asked for.
AmplitudeTrack track_amplitudes_of(const std::string& file, const Rig& rig) {
  RecordingOptions opening = recording_options(rig);
  return track_amplitudes(*open_recording(file, opening), rig);
}

int run_amplitudes(const TrackAsked& asked, const Rig& rig) {
  if (asked.orders != std::vector<double>{1.0} || asked.budget || asked.picture || !asked.against.empty() ||
      !asked.from.empty() || !asked.to.empty()) {
    throw Error(
        Trouble::request, "no_phase",
        "with a signal of the speed in place of a tach, order 1 of the whole recording is measured and no phase",
        "leave --orders, --budget, --picture, --against, --from and --to out, or fit one mark with a tach");
  }
  const Shown how = shown_as(asked.shown_as);
  std::vector<Json> found;
  const int worst = for_each_file(asked.files, asked.json, *asked.words, [&](const std::string& file) {
    const AmplitudeTrack track = track_amplitudes_of(file, rig);
    found.push_back(document_of(track, rig, file, how));
    if (!asked.json) print_warnings(track.warnings, *asked.words);
    asked.json ? print_json(found.back()) : print(text_of(track, rig, file, how));
  });
  write_results(found, asked.out, asked.picture.replace, asked.read());
  return worst;
}

Track track_file(const std::string& file, const Rig& rig, const TrackOptions& options) {
  const RecordingOptions opening = recording_options(rig);
  auto recording = open_recording(file, opening);
  return track(*recording, rig, options);
}

/// The same, with what an earlier spin with the same weights shows of faults.
Track track_file(const std::string& file, const Rig& rig, const TrackOptions& options,
                 const std::optional<Track>& earlier) {
  Track track = track_file(file, rig, options);
  if (!earlier) return track;
  const Warnings faults = compare_tracks(track, *earlier);
  track.warnings.insert(track.warnings.end(), faults.begin(), faults.end());
  return track;
}

TrackOptions options_of(const TrackAsked& asked) {
  TrackOptions options;
  options.orders = asked.orders;
  if (!asked.from.empty()) options.from_s = parse_quantity(asked.from, Dimension::time);
  if (!asked.to.empty()) options.to_s = parse_quantity(asked.to, Dimension::time);
  options.fit_disturbances = !asked.plain;
  return options;
}

const SensorTrack& sensor_named(const Track& track, const std::string& name) {
  const auto found =
      std::find_if(track.sensors.begin(), track.sensors.end(), [&](const auto& sensor) { return sensor.name == name; });
  if (found != track.sensors.end()) return *found;
  throw Error(Trouble::request, "no_such_sensor", "the rig has no sensor '" + name + "'",
              "name two of its sensors, like '--orbit A,B'");
}

/// What the turns that were measured consist of, by order, up to the highest order asked for or 10.
void draw_orders(const Track& track, const Rig& rig, const TrackAsked& asked) {
  const RecordingOptions opening = recording_options(rig);
  OrderSpectrumOptions options;
  options.highest_order =
      std::max(options.highest_order, 1.0 + *std::max_element(asked.orders.begin(), asked.orders.end()));
  options.from_s = track.begin_s;
  options.to_s = track.begin_s + track.duration_s;
  options.order_step = order_step_of(track.revolutions);
  const OrderSpectra spectra = order_spectra(*open_recording(asked.files[0], opening), rig, options);
  for (const Warning& warning : spectra.warnings)
    if (warning.code == WarningCode::orders_lowered && !asked.json) print_warning(sentence_of(warning));
  write_picture(order_spectrum_picture(spectra, track.sensors, *asked.picture.words),
                picture_of(rig, track.speed_rad_s), asked.picture, asked.read());
}

/// What was noticed in all recordings, each as a spin of its name.
void add_warnings(const Track& track, Warnings& noticed) {
  for (Warning warning : track.warnings) {
    warning.spins = {track.file};
    noticed.push_back(std::move(warning));
  }
}

Json measure_and_tell(const std::string& file, const Rig& rig, const TrackAsked& asked,
                      const std::optional<Track>& earlier, Warnings& noticed) {
  const Shown how = shown_as(asked.shown_as);
  const Track track = track_file(file, rig, options_of(asked), earlier);
  Json document = document_of(track, how, asked.budget);
  if (!asked.orbit.empty()) {
    write_picture(orbit_picture(track, sensor_named(track, asked.orbit.front()),
                                sensor_named(track, asked.orbit.back()), *asked.picture.words),
                  picture_of(rig, track.speed_rad_s), asked.picture, asked.read());
  } else if (asked.picture) {
    draw_orders(track, rig, asked);
  }
  add_warnings(track, noticed);
  asked.json ? print_json(document) : print(text_of(track, how, asked.budget, *asked.words));
  return document;
}

void tell_noticed(const TrackAsked& asked, const std::vector<Json>& found, const Warnings& noticed) {
  std::vector<std::string> files;
  for (const Json& document : found)
    if (!document.contains("error")) files.push_back(document.value("file", ""));
  if (asked.json || files.empty()) return;
  Warnings all = noticed;
  if (files.size() == 1)
    for (Warning& warning : all) warning.spins.clear();
  print_warnings(all, *asked.words, files);
  print(closing_text(asked.files.size(), asked.words->commands()));
}

int run_track(const TrackAsked& asked) {
  refuse_picture_of(asked.picture, asked.files);
  admit_results(asked.out, asked.picture.replace, asked.read());
  const Rig rig = with_stated(read_rig(asked.rig), asked.stated);
  if (rig.tach.speed_channel) return run_amplitudes(asked, rig);
  std::optional<Track> earlier;
  if (!asked.against.empty()) earlier = track_file(asked.against, rig, options_of(asked));
  std::vector<Json> found;
  Warnings noticed;
  const int worst = for_each_file(asked.files, asked.json, *asked.words, [&](const std::string& file) {
    try {
      found.push_back(measure_and_tell(file, rig, asked, earlier, noticed));
    } catch (const Error& error) {
      found.push_back(document_of(file, error));
      throw;
    }
  });
  tell_noticed(asked, found, noticed);
  write_results(found, asked.out, asked.picture.replace, asked.read());
  return worst;
}

}  // namespace

Json track_document(const std::string& file, const Rig& rig) {
  if (rig.tach.speed_channel) return document_of(track_amplitudes_of(file, rig), rig, file);
  RecordingOptions options = recording_options(rig);
  options.read_ahead = false;  // the cores have other recordings to do
  return document_of(track(*open_recording(file, options), rig, {}), shown_as(""), false);
}

void add_track(CLI::App& program, int& exit_code) {
  auto asked = std::make_shared<TrackAsked>();
  CLI::App* command =
      program.add_subcommand("track", "Amplitude and phase lag of each order at each sensor, with their uncertainty");
  command->add_option("files", asked->files, "Recordings of steady spins; - is standard input")->required();
  command->add_option("--rig", asked->rig, "The rig file")->required();
  command->add_option("--orders", asked->orders, "Orders to measure, such as 1,2,3 or 0.5,1,2")
      ->delimiter(',')
      ->allow_extra_args(false);
  command->add_option("--as", asked->shown_as, "Show as this motion; the sensor's own, peak, if not given")
      ->check(CLI::IsMember({"acceleration", "velocity", "velocity-rms", "displacement", "displacement-pp"}));
  command->add_option("--from", asked->from, "Use the recording from this time on, such as 2s");
  command->add_option("--to", asked->to, "Use the recording up to this time");
  command->add_option("--against", asked->against,
                      "An earlier spin with the same weights: names sensors that are exchanged, turned over or ten "
                      "times out since");
  command->add_flag("--budget", asked->budget, "Show where the uncertainty comes from (standard uncertainties)");
  command->add_flag("--plain", asked->plain, "Plain least squares: fit no neighbours along, discount no knocks");
  command->add_flag("--json", asked->json, "JSON for programs, one line a file");
  add_language_option(*command, asked->words);
  add_stated_options(*command, asked->stated);
  add_results_option(*command, asked->out);
  add_picture_options(*command, asked->picture, "what the spin consists of, by order,");
  command
      ->add_option("--orbit", asked->orbit,
                   "Draw instead the shaft's way past two sensors at a right angle in one plane, like A,B: the first "
                   "shows upwards, the second to the right")
      ->delimiter(',')
      ->expected(2)
      ->needs("--picture");
  command->footer(
      "Examples:\n  counterspot track 00-as-found.wav --rig rig.toml --picture orders.png\n"
      "  counterspot track *.wav --rig rig.toml --orders 1,2 --as velocity-rms --json\n"
      "  counterspot track *.wav --rig rig.toml --out spins.csv");
  command->callback([asked, &exit_code] { exit_code = run_track(*asked); });
}

}  // namespace counterspot::commands
