// rigsim: writes recordings of a shaft on a simulated rig, and the files that go with them.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <cstdio>
#include <fstream>

#include "counterspot/units/error.hpp"
#include "rigsim/dynamics.hpp"
#include "rigsim/first_day.hpp"
#include "rigsim/live.hpp"
#include "rigsim/scenario.hpp"
#include "rigsim/simulate.hpp"
#include "rigsim/write.hpp"

namespace {

using counterspot::Dimension;
using counterspot::parse_quantity;

struct Wanted {
  std::string scenario = "marrow-creek";
  double times_limit = 8.0;
  std::vector<std::string> fitted;
  std::vector<std::string> stretches;
  std::string speed;
  double seconds = 5.0;
  double sample_rate_Hz = 0.0;
  int bits = 24;
  std::uint64_t seed = 1;
  std::vector<int> lost, doubled;
  std::vector<double> knocks_s;
  std::string out;
  rigsim::LiveOptions live;
  bool describe = false;
  bool shaft = false;
};

rigsim::Scenario scenario_of(const Wanted& wanted) {
  rigsim::Scenario scenario = wanted.scenario == "marrow-creek"
                                  ? rigsim::marrow_creek()
                                  : rigsim::random_scenario(std::stoull(wanted.scenario), wanted.times_limit);
  scenario.rig.recorder.bits = wanted.bits;
  if (wanted.sample_rate_Hz > 0.0) scenario.rig.recorder.sample_rate_Hz = wanted.sample_rate_Hz;
  return scenario;
}

/// "A: 15 g @ 0 deg"
rigsim::UnbalanceSlice piece_of(const rigsim::Scenario& scenario, const std::string& text) {
  auto colon = text.find(':');
  auto at = text.find('@');
  for (const rigsim::PlaneTruth& plane : scenario.planes) {
    if (colon == std::string::npos || at == std::string::npos || text.substr(0, colon) != plane.name) continue;
    return rigsim::piece_at(plane, parse_quantity(text.substr(colon + 1, at - colon - 1), Dimension::mass),
                            parse_quantity(text.substr(at + 1), Dimension::angle));
  }
  throw CLI::ValidationError("--fitted", "'" + text + "' does not read like \"A: 15 g @ 0 deg\"");
}

/// "1800 rpm in 20 s"
rigsim::SpeedStretch stretch_of(const std::string& text) {
  auto in = text.find(" in ");
  if (in == std::string::npos)
    throw CLI::ValidationError("--stretch", "'" + text + "' does not read like \"1800 rpm in 20 s\"");
  return {parse_quantity(text.substr(in + 4), Dimension::time), parse_quantity(text.substr(0, in), Dimension::speed)};
}

rigsim::SpinTruth spin_of(const rigsim::Scenario& scenario, const Wanted& wanted) {
  rigsim::SpinTruth spin = rigsim::steady_spin(scenario, wanted.seconds, wanted.seed);
  if (!wanted.speed.empty()) spin.speed.start_rad_s = parse_quantity(wanted.speed, Dimension::speed);
  for (const std::string& text : wanted.stretches) spin.speed.stretches.push_back(stretch_of(text));
  for (const std::string& text : wanted.fitted) spin.fitted.push_back(piece_of(scenario, text));
  for (double at_s : wanted.knocks_s) spin.knocks.push_back({at_s, 0, 400.0, 0.003});
  spin.lost_pulses = wanted.lost;
  spin.double_pulses = wanted.doubled;
  return spin;
}

void write_text(const std::string& path, const std::string& text) {
  std::ofstream file(path, std::ios::binary);
  file << text;
  if (!file.flush()) throw std::runtime_error(path + ": cannot be written");
}

void print_truth(const rigsim::Scenario& scenario, const rigsim::SpinTruth& spin) {
  auto felt = rigsim::equivalent_at_speed(scenario.rig, scenario.shaft, spin.fitted, scenario.plane_positions_m(),
                                          scenario.balancing_rad_s);
  auto rigid = rigsim::rigid_equivalent(scenario.shaft, spin.fitted, scenario.plane_positions_m());
  auto vectors = rigsim::steady_vectors(scenario.rig, scenario.shaft, spin.fitted, scenario.balancing_rad_s);
  fmt::print("{:.2f} kg, balancing at {:.0f} rpm\n", scenario.shaft.mass_kg(),
             counterspot::rpm(scenario.balancing_rad_s));
  for (std::size_t p = 0; p < 2; ++p) {
    fmt::print("plane {}: at balancing speed {:.1f} g·mm at {:.1f} deg, as a rigid shaft {:.1f} g·mm at {:.1f} deg\n",
               scenario.planes[p].name, std::abs(felt[p]) * 1e6, counterspot::direction_deg(felt[p]),
               std::abs(rigid[p]) * 1e6, counterspot::direction_deg(rigid[p]));
  }
  for (std::size_t s = 0; s < vectors.size(); ++s) {
    fmt::print("sensor {}: {:.5g} (SI, peak), lag {:.2f} deg\n", scenario.rig.sensors[s].name, std::abs(vectors[s]),
               counterspot::direction_deg(vectors[s]));
  }
}

void add_shaft_options(CLI::App& command, Wanted& wanted) {
  command.add_option("--case", wanted.scenario, "marrow-creek, or a number: a shaft and rig drawn at random")
      ->capture_default_str();
  command.add_option("--times-limit", wanted.times_limit, "how far over the limit a random shaft is as found")
      ->capture_default_str();
}

void add_spin_options(CLI::App& command, Wanted& wanted) {
  add_shaft_options(command, wanted);
  command.add_option("--fitted", wanted.fitted, "a weight on the shaft, \"A: 15 g @ 0 deg\"; may be repeated");
  command.add_option("--speed", wanted.speed, "at the start, \"1800 rpm\"; else the balancing speed");
  command.add_option("--stretch", wanted.stretches, "change of speed, \"1800 rpm in 20 s\"; may be repeated");
  command.add_option("--seconds", wanted.seconds, "length of the recording")->capture_default_str();
  command.add_option("--sample-rate", wanted.sample_rate_Hz, "Hz");
  command.add_option("--bits", wanted.bits, "of the converter: 16, 24, or 0 for 64-bit float")->capture_default_str();
  command.add_option("--seed", wanted.seed, "of noise, hunting and jitter")->capture_default_str();
  command.add_option("--lost", wanted.lost, "tach pulses that are missing, counted from 0");
  command.add_option("--double", wanted.doubled, "tach pulses that come twice, counted from 0");
  command.add_option("--knock", wanted.knocks_s, "times (s) at which somebody knocks against pedestal A");
}

void add_live(CLI::App& app, Wanted& wanted) {
  CLI::App* live = app.add_subcommand("live", "run the rig in real time and write what the recorder gives, s32le");
  add_shaft_options(*live, wanted);
  live->add_option("--control", wanted.live.control, "file with lines 'drive on', 'fitted A: 15 g @ 0 deg'");
  live->add_option("--out", wanted.live.out, "a named pipe or file; - is standard output")->capture_default_str();
  live->add_option("--seconds", wanted.live.seconds, "stop after so long; 0: go on")->capture_default_str();
  live->add_option("--pace", wanted.live.pace, "how many times as fast as the clock")
      ->capture_default_str()
      ->check(CLI::PositiveNumber);
  live->add_option("--run-up", wanted.live.run_up_s, "seconds from rest to speed")->capture_default_str();
  live->add_option("--seed", wanted.seed, "of noise, and of how weights are set")->capture_default_str();
  live->add_flag("--drilled", wanted.live.drilled,
                 "weights are test masses in drilled holes, set to 0.2 % and 0.1 deg");
  live->add_flag("--wav", wanted.live.wav, "24-bit WAV of open length instead of bare samples");
}

void add_first_day(CLI::App& app, Wanted& wanted) {
  CLI::App* day = app.add_subcommand("first-day", "a rig that nobody has described, in real time, s32le");
  day->add_option("--case", wanted.scenario, "a number: how it is cabled and turns is drawn at random");
  day->add_option("--control", wanted.live.control, "file with what is done now: knocks-a, hand, slow, at-a, …");
  day->add_option("--out", wanted.live.out, "a named pipe or file; - is standard output")->capture_default_str();
  day->add_option("--seconds", wanted.live.seconds, "stop after so long; 0: go on")->capture_default_str();
  day->add_option("--pace", wanted.live.pace, "how many times as fast as the clock")
      ->capture_default_str()
      ->check(CLI::PositiveNumber);
  day->add_flag("--describe", wanted.describe, "say what is there, and what its owner is asked, and end");
  day->add_flag("--shaft", wanted.shaft, "say what a tape measure and a scale give of its shaft, as a file, and end");
}

/// A line each, for programs.
void describe(const rigsim::FirstDay& day) {
  const std::vector<rigsim::ModeTruth> modes = rigsim::modes_of(day);
  const bool counter = day.from_a_counter_clockwise == day.viewed_from_a;
  fmt::print(
      "channels {}\nrate {}\ntop {}\nviewing_end {}\nrotation {}\nsensors {} {}\ntach {}\nweight {:.2f} g\n"
      "radius {:.2f} mm\nsensitivity_V_per_si {:.6g} {:.6g}\nresonances_rpm {:.1f} {:.1f} {:.1f}\ninverted {} {}\n",
      day.channels, day.scenario.rig.recorder.sample_rate_Hz, day.from_a_counter_clockwise ? "left" : "right",
      day.viewed_from_a ? "A" : "B", counter ? "counter-clockwise" : "clockwise", day.channel[0] + 1,
      day.channel[1] + 1, day.channel[2] + 1, 1e3 * rigsim::known_mass_kg(day), 1e3 * day.scenario.planes[0].radius_m,
      std::abs(day.scenario.rig.sensors[0].volts_per_si), std::abs(day.scenario.rig.sensors[1].volts_per_si),
      counterspot::rpm(modes[0].natural_rad_s), counterspot::rpm(modes[1].natural_rad_s),
      counterspot::rpm(modes[2].natural_rad_s), day.inverted[0] ? "yes" : "no", day.inverted[1] ? "yes" : "no");
}

void first_day(const Wanted& wanted) {
  const rigsim::FirstDay day = rigsim::random_first_day(std::stoull(wanted.scenario));
  if (wanted.shaft) {
    fmt::print("{}", rigsim::shaft_toml(day.scenario));
  } else {
    wanted.describe ? describe(day) : rigsim::run_first_day(day, wanted.live);
  }
}

void carry_out(const CLI::App& app, const Wanted& wanted) {
  if (app.got_subcommand("first-day")) return first_day(wanted);
  rigsim::Scenario scenario = scenario_of(wanted);
  if (app.got_subcommand("truth")) print_truth(scenario, spin_of(scenario, wanted));
  if (app.got_subcommand("spin")) {
    rigsim::write_recording(wanted.out, rigsim::simulate(scenario.rig, scenario.shaft, spin_of(scenario, wanted)));
  }
  if (app.got_subcommand("live")) {
    rigsim::LiveOptions live = wanted.live;
    live.seed = wanted.seed;
    rigsim::run_live(scenario, live);
  }
  if (app.got_subcommand("files")) {
    write_text(wanted.out + "/rig.toml", rigsim::rig_toml(scenario));
    write_text(wanted.out + "/rig-csv.toml", rigsim::rig_toml_for_csv(scenario));
    write_text(wanted.out + "/shaft.toml", rigsim::shaft_toml(scenario));
  }
}

int run(int argc, char** argv) {
  CLI::App app("Recordings of a shaft on a simulated rig. The physics is in tools/rigsim/dynamics.hpp.");
  app.require_subcommand(1);
  Wanted wanted;
  CLI::App* spin = app.add_subcommand("spin", "write one recording (.wav, .flac or .csv)");
  add_spin_options(*spin, wanted);
  spin->add_option("--out", wanted.out, "where to")->required();
  add_spin_options(*app.add_subcommand("truth", "print what is really on the shaft"), wanted);
  CLI::App* files = app.add_subcommand("files", "write rig.toml, rig-csv.toml and shaft.toml into a folder");
  add_shaft_options(*files, wanted);
  files->add_option("--out", wanted.out, "the folder")->required();
  add_live(app, wanted);
  add_first_day(app, wanted);
  try {
    app.parse(argc, argv);
    carry_out(app, wanted);
  } catch (const CLI::Error& error) {
    return app.exit(error);
  }
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    return run(argc, argv);
  } catch (const std::exception& error) {
    std::fprintf(stderr, "%s\n", error.what());
    return 2;
  }
}
