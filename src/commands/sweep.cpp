#include "counterspot/sweep.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <memory>

#include "commands/command.hpp"
#include "commands/output.hpp"
#include "counterspot/files.hpp"

namespace counterspot::commands {
namespace {

struct Asked {
  std::string file;
  std::string rig;
  std::vector<int> orders = {1};
  bool per_turn = false;
  int poles = 2;
  double bandwidth_orders = 0.1;
  std::string slow_roll;
  bool csv = false;
  bool json = false;
};

double shown(double si, Motion motion) {
  return si / si_per_display_unit(motion);
}

Json json_of(const Sweep& sweep) {
  Json sensors = Json::array();
  for (std::size_t s = 0; s < sweep.sensors.size(); ++s) {
    sensors.push_back({{"name", sweep.sensors[s]}, {"unit", display_unit(sweep.motions[s])}});
  }
  Json points = Json::array();
  for (const SweepPoint& point : sweep.points) {
    Json vectors = Json::array();
    for (std::size_t s = 0; s < point.vectors.size(); ++s) {
      for (std::size_t o = 0; o < point.vectors[s].size(); ++o) {
        const Phasor& z = point.vectors[s][o];
        vectors.push_back({{"sensor", sweep.sensors[s]},
                           {"order", sweep.orders[o]},
                           {"amplitude", shown(std::abs(z), sweep.motions[s])},
                           {"phase_lag_deg", direction_deg(z)}});
      }
    }
    points.push_back({{"time_s", point.time_s}, {"speed_rpm", rpm(point.speed_rad_s)}, {"vectors", vectors}});
  }
  Json critical = Json::array();
  for (const CriticalSpeed& c : sweep.critical) {
    critical.push_back({{"sensor", c.sensor},
                        {"speed_rpm", rpm(c.speed_rad_s)},
                        {"u_speed_rpm", rpm(c.u_speed_rad_s)},
                        {"damping_percent", 100.0 * c.damping_ratio},
                        {"u_damping_percent", 100.0 * c.u_damping_ratio},
                        {"circle_fit_speed_rpm", rpm(c.circle_speed_rad_s)},
                        {"circle_fit_damping_percent", 100.0 * c.circle_damping_ratio},
                        {"peak_speed_rpm", rpm(c.peak_speed_rad_s)}});
  }
  return {{"file", sweep.file},
          {"sensors", sensors},
          {"orders", sweep.orders},
          {"points", points},
          {"critical_speeds", critical},
          {"advice", sweep.advice},
          {"warnings", to_json(sweep.warnings)}};
}

std::string csv_of(const Sweep& sweep) {
  std::string text = "time_s,speed_rpm";
  for (std::size_t s = 0; s < sweep.sensors.size(); ++s) {
    for (const int order : sweep.orders) {
      text += fmt::format(",{0}_order_{1}_peak ({2}),{0}_order_{1}_phase_lag (deg)", sweep.sensors[s], order,
                          display_unit(sweep.motions[s]));
    }
  }
  text += "\n";
  for (const SweepPoint& point : sweep.points) {
    text += fmt::format("{:.6f},{:.4f}", point.time_s, rpm(point.speed_rad_s));
    for (std::size_t s = 0; s < point.vectors.size(); ++s) {
      for (const Phasor& z : point.vectors[s])
        text += fmt::format(",{:.8g},{:.4f}", shown(std::abs(z), sweep.motions[s]), direction_deg(z));
    }
    text += "\n";
  }
  return text;
}

std::string text_of(const Sweep& sweep) {
  const auto [slowest, fastest] =
      std::minmax_element(sweep.points.begin(), sweep.points.end(),
                          [](const auto& a, const auto& b) { return a.speed_rad_s < b.speed_rad_s; });
  std::string text = fmt::format("{}\n{} turns, {:.0f} to {:.0f} rpm\n\n", sweep.file, sweep.points.size(),
                                 rpm(slowest->speed_rad_s), rpm(fastest->speed_rad_s));
  for (const CriticalSpeed& c : sweep.critical) {
    text += fmt::format(
        "SENSOR {:<4} critical speed {:.1f} rpm ± {:.1f}   damping {:.2f} % ± {:.2f}   (circle fit {:.1f} rpm, {:.2f} "
        "%)\n",
        c.sensor, rpm(c.speed_rad_s), 2.0 * rpm(c.u_speed_rad_s), 100.0 * c.damping_ratio, 200.0 * c.u_damping_ratio,
        rpm(c.circle_speed_rad_s), 100.0 * c.circle_damping_ratio);
  }
  for (const std::string& sentence : sweep.advice) text += fmt::format("ADVICE {}\n", sentence);
  return text + "\n± holds for 95 % of cases (k = 2).\n\n" + cautions;
}

void run_sweep(const Asked& asked) {
  const Rig rig = read_rig(asked.rig);
  SweepOptions options;
  options.orders = asked.orders;
  options.method = asked.per_turn ? SweepMethod::per_turn : SweepMethod::vold_kalman;
  options.poles = asked.poles;
  options.bandwidth_orders = asked.bandwidth_orders;
  if (!asked.slow_roll.empty()) options.slow_roll_below_rad_s = parse_quantity(asked.slow_roll, Dimension::speed);
  RecordingOptions recording_options;
  recording_options.sample_rate_Hz = rig.sample_rate_Hz;
  const auto recording = open_recording(asked.file, recording_options);
  const Sweep result = sweep(*recording, rig, options);
  if (!asked.json) print_warnings(result.warnings);
  if (asked.json) {
    print_json(json_of(result));
  } else {
    print(asked.csv ? csv_of(result) : text_of(result));
  }
}

}  // namespace

void add_sweep(CLI::App& program, int& exit_code) {
  auto asked = std::make_shared<Asked>();
  CLI::App* command =
      program.add_subcommand("sweep", "Run-up or coast-down: vectors over speed, critical speed and damping");
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
  command->add_flag("--csv", asked->csv, "One line a turn for a spreadsheet");
  command->add_flag("--json", asked->json, "JSON for programs");
  command->footer(
      "Examples:\n  counterspot sweep run-up.wav --rig rig.toml\n"
      "  counterspot sweep coast-down.wav --rig rig.toml --orders 1,2 --csv > coast-down.csv");
  command->callback([asked, &exit_code] {
    run_sweep(*asked);
    exit_code = 0;
  });
}

}  // namespace counterspot::commands
