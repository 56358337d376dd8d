#include "counterspot/tracking/sweep.hpp"

#include <memory>
#include <optional>

#include "commands/command.hpp"
#include "commands/output.hpp"
#include "commands/picture.hpp"
#include "commands/results.hpp"
#include "commands/stated_options.hpp"
#include "counterspot/drawing/drawing_charts.hpp"
#include "counterspot/files/files.hpp"
#include "report/sweep.hpp"

namespace counterspot::commands {
namespace {

struct SweepAsked {
  std::string file;
  std::string rig;
  std::vector<double> orders = {1.0};
  bool per_turn = false;
  int poles = 2;
  double bandwidth_orders = 0.1;
  std::string slow_roll;
  std::vector<std::string> lines;
  bool no_lines = false;
  bool order_spectrum = false;
  bool map = false;
  double highest_order = 10.0;
  double order_step = 0.1;
  std::string highest_frequency;
  std::string frequency_step;
  std::string shown_as;
  bool csv = false;
  bool json = false;
  PictureAsked picture;
  ResultsAsked out;
  StatedRecording stated;
};

Picture drawn(const Sweep& result, const Words& words) {
  return sweep_picture(result, words);
}

Picture drawn(const OrderSpectra& result, const Words& words) {
  return order_spectrum_picture(result, {}, words);
}

Picture drawn(const SpeedFrequencyMaps& result, const Words& words) {
  return map_picture(result, words);
}

/// Prints a result in the form asked for.
template <class Result>
void print_result(const SweepAsked& asked, const Rig& rig, const Result& result) {
  if (!asked.json) print_warnings(result.warnings, *asked.picture.words);
  if (asked.picture)
    write_picture(drawn(result, *asked.picture.words), picture_of(rig), asked.picture, {asked.file, asked.rig});
  if (asked.out) write_results(document_of(result), asked.out, asked.picture.replace, {asked.file, asked.rig});
  if (asked.json) {
    print_json(document_of(result));
  } else {
    print(asked.csv ? csv_of(result) : text_of(result, *asked.picture.words));
  }
}

OrderSpectra spectra_of(Recording& recording, const Rig& rig, const SweepAsked& asked) {
  OrderSpectrumOptions options;
  options.highest_order = asked.highest_order;
  options.order_step = asked.order_step;
  return order_spectra(recording, rig, options);
}

SpeedFrequencyMaps maps_of(Recording& recording, const Rig& rig, const SweepAsked& asked) {
  SpeedFrequencyOptions options;
  if (!asked.highest_frequency.empty())
    options.highest_Hz = parse_quantity(asked.highest_frequency, Dimension::frequency);
  if (!asked.frequency_step.empty())
    options.frequency_step_Hz = parse_quantity(asked.frequency_step, Dimension::frequency);
  return speed_frequency_maps(recording, rig, options);
}

/// Empty: the sensors' own.
std::optional<Motion> motion_asked(const std::string& shown_as) {
  if (shown_as.empty()) return std::nullopt;
  return shown_as == "acceleration" ? Motion::acceleration
         : shown_as == "velocity"   ? Motion::velocity
                                    : Motion::displacement;
}

void run_sweep(const SweepAsked& asked) {
  admit_results(asked.out, asked.picture.replace, {asked.file, asked.rig});
  const Rig rig = with_stated(read_rig(asked.rig), asked.stated);
  const RecordingOptions opening = recording_options(rig);
  const auto recording = open_recording(asked.file, opening);
  if (asked.order_spectrum) return print_result(asked, rig, spectra_of(*recording, rig, asked));
  const std::optional<Motion> motion = motion_asked(asked.shown_as);
  if (asked.map) {
    const SpeedFrequencyMaps maps = maps_of(*recording, rig, asked);
    return print_result(asked, rig, motion ? view_as(maps, *motion) : maps);
  }
  SweepOptions options;
  options.orders = asked.orders;
  options.method = asked.per_turn ? SweepMethod::per_turn : SweepMethod::vold_kalman;
  options.poles = asked.poles;
  options.bandwidth_orders = asked.bandwidth_orders;
  if (!asked.slow_roll.empty()) options.slow_roll_below_rad_s = parse_quantity(asked.slow_roll, Dimension::speed);
  if (asked.no_lines) options.fixed_lines_Hz.emplace();
  for (const std::string& line : asked.lines) {
    if (!options.fixed_lines_Hz) options.fixed_lines_Hz.emplace();
    options.fixed_lines_Hz->push_back(parse_quantity(line, Dimension::frequency));
  }
  const Sweep found = sweep(*recording, rig, options);
  print_result(asked, rig, motion ? view_as(found, *motion) : found);
}

}  // namespace

void add_sweep(CLI::App& program, int& exit_code) {
  auto asked = std::make_shared<SweepAsked>();
  CLI::App* command =
      program.add_subcommand("sweep", "Run-up or coast-down: vectors over speed, resonance speeds and damping");
  command->add_option("file", asked->file, "The recording; - is standard input")->required();
  command->add_option("--rig", asked->rig, "The rig file")->required();
  command->add_option("--orders", asked->orders, "Orders to track, such as 1,2")
      ->delimiter(',')
      ->allow_extra_args(false);
  command->add_flag("--per-turn", asked->per_turn, "Least squares over each turn instead of the Vold-Kalman filter");
  command->add_option("--poles", asked->poles, "Poles of the Vold-Kalman filter, 1 to 3");
  command->add_option("--bandwidth", asked->bandwidth_orders, "Its 3 dB offset from the order, in orders");
  command->add_option("--slow-roll", asked->slow_roll,
                      "Take off the mean vector of the turns below this speed, such as '300 rpm'");
  CLI::Option* line = command
                          ->add_option("--line", asked->lines,
                                       "A steady line to take off, such as '50 Hz', instead of those found; may be "
                                       "given several times")
                          ->allow_extra_args(false);
  command->add_flag("--no-lines", asked->no_lines, "Take no steady line off")->excludes(line);
  CLI::Option* spectrum = command->add_flag("--order-spectrum", asked->order_spectrum,
                                            "Instead: what the whole sweep consists of, by order");
  command->add_option("--highest-order", asked->highest_order, "Up to this order; 10 if not given")->needs(spectrum);
  command->add_option("--order-step", asked->order_step, "Orders from line to line; 0.1 if not given")->needs(spectrum);
  CLI::Option* map =
      command->add_flag("--map", asked->map, "Instead: amplitude over speed and frequency")->excludes(spectrum);
  command->add_option("--highest-frequency", asked->highest_frequency, "Up to this frequency; '500 Hz' if not given")
      ->needs(map);
  command->add_option("--frequency-step", asked->frequency_step, "From line to line, at most; '1 Hz' if not given")
      ->needs(map);
  command->add_option("--as", asked->shown_as, "Show as this motion, peak; the sensor's own if not given")
      ->check(CLI::IsMember({"acceleration", "velocity", "displacement"}))
      ->excludes(spectrum);
  command->add_flag("--csv", asked->csv, "For a spreadsheet: one line a turn, an order, or a speed and frequency");
  command->add_flag("--json", asked->json, "JSON for programs");
  add_stated_options(*command, asked->stated);
  add_results_option(*command, asked->out);
  add_picture_options(*command, asked->picture,
                      "amplitude and phase over speed and the path of the vector, or what is asked for instead,");
  command->footer(
      "Examples:\n  counterspot sweep run-up.wav --rig rig.toml --orders 1,2 --as displacement --picture run-up.png\n"
      "  counterspot sweep coast-down.wav --rig rig.toml --orders 1,2 --csv > coast-down.csv\n"
      "  counterspot sweep run-up.wav --rig rig.toml --order-spectrum\n"
      "  counterspot sweep run-up.wav --rig rig.toml --map --csv > map.csv");
  command->callback([asked, &exit_code] {
    run_sweep(*asked);
    exit_code = 0;
  });
}

}  // namespace counterspot::commands
