#include "report/sweep.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>

#include "algebra/median.hpp"
#include "counterspot/drawing/command_words.hpp"
#include "counterspot/units/coverage.hpp"
#include "counterspot/units/measured.hpp"
#include "counterspot/units/units.hpp"
#include "report/documents.hpp"
#include "report/text.hpp"

namespace counterspot {
namespace {

constexpr std::size_t lines_shown = 8;

double in_display_unit(double si, Motion motion) {
  return si / si_per_display_unit(motion);
}

/// Lines that stand out of the rest (three times its median, common practice), the largest first.
std::vector<std::size_t> largest_lines(const OrderSpectrum& spectrum) {
  const auto& a = spectrum.amplitudes;
  const double least = 3.0 * median_of(a);
  std::vector<std::size_t> peaks;
  for (std::size_t i = 1; i < a.size(); ++i) {
    if (a[i] > least && a[i] >= a[i - 1] && (i + 1 == a.size() || a[i] > a[i + 1])) peaks.push_back(i);
  }
  std::stable_sort(peaks.begin(), peaks.end(), [&](std::size_t i, std::size_t k) { return a[i] > a[k]; });
  peaks.resize(std::min(peaks.size(), lines_shown));
  return peaks;
}

Json speeds_in_rpm(const std::vector<double>& speeds_rad_s) {
  Json speeds = Json::array();
  for (const double speed : speeds_rad_s) speeds.push_back(rpm(speed));
  return speeds;
}

}  // namespace

Json document_of(const Sweep& sweep) {
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
                           {"order", order_json(sweep.orders[o])},
                           {"amplitude", in_display_unit(std::abs(z), sweep.motions[s])},
                           {"phase_lag_deg", direction_deg(z)}});
        if (s < point.u.size()) vectors.back()["u_amplitude"] = in_display_unit(point.u[s][o], sweep.motions[s]);
      }
    }
    points.push_back({{"time_s", point.time_s}, {"speed_rpm", rpm(point.speed_rad_s)}, {"vectors", vectors}});
  }
  Json critical = Json::array();
  Json resonances = Json::array();
  for (const Resonance& r : sweep.resonances) {
    critical.push_back({{"sensor", r.sensor},
                        {"speed_rpm", rpm(r.speed_rad_s)},
                        {"u_speed_rpm", rpm(r.u_speed_rad_s)},
                        {"damping_percent", 100.0 * r.damping_ratio},
                        {"u_damping_percent", 100.0 * r.u_damping_ratio},
                        {"circle_fit_speed_rpm", rpm(r.circle_speed_rad_s)},
                        {"circle_fit_damping_percent", 100.0 * r.circle_damping_ratio},
                        {"peak_speed_rpm", rpm(r.peak_speed_rad_s)}});
    resonances.push_back(critical.back());
    resonances.back()["of"] = "rig and shaft together";
  }
  Json lines = Json::array();
  for (const FixedLine& line : sweep.lines) {
    const auto sensor = std::find(sweep.sensors.begin(), sweep.sensors.end(), line.sensor) - sweep.sensors.begin();
    const Motion motion = sweep.motions[static_cast<std::size_t>(sensor)];
    lines.push_back({{"sensor", line.sensor},
                     {"frequency_hz", line.frequency_Hz},
                     {"amplitude", in_display_unit(line.amplitude, motion)},
                     {"unit", display_unit(motion)},
                     {"bridged_within_hz", line.passing_Hz}});
  }
  Json orders = Json::array();
  for (const double order : sweep.orders) orders.push_back(order_json(order));
  return {{"file", sweep.file},
          {"sensors", sensors},
          {"orders", orders},
          {"points", points},
          {"resonances", resonances},
          {"critical_speeds", critical},  // the same list under the name that programs know
          {"fixed_lines", lines},
          {"advice", sweep.advice},
          {"warnings", json_of(sweep.warnings)}};
}

std::string csv_of(const Sweep& sweep) {
  std::string text = "time_s,speed_rpm";
  for (std::size_t s = 0; s < sweep.sensors.size(); ++s) {
    for (const double order : sweep.orders) {
      text += fmt::format(",{0}_order_{1}_peak ({2}),{0}_order_{1}_phase_lag (deg)", sweep.sensors[s], order,
                          display_unit(sweep.motions[s]));
    }
  }
  text += "\n";
  for (const SweepPoint& point : sweep.points) {
    text += fmt::format("{:.6f},{:.4f}", point.time_s, rpm(point.speed_rad_s));
    for (std::size_t s = 0; s < point.vectors.size(); ++s) {
      for (const Phasor& z : point.vectors[s])
        text += fmt::format(",{:.8g},{:.4f}", in_display_unit(std::abs(z), sweep.motions[s]), direction_deg(z));
    }
    text += "\n";
  }
  return text;
}

namespace {

std::vector<std::string> advice_text(const Sweep& sweep, const Words& words) {
  const LogWords& texts = words.commands().log;
  if (&words == &english() || sweep.advice.empty()) return sweep.advice;
  const std::string figures = figures_text(sweep.advice.front(), words);
  if (sweep.resonances.empty()) return {say(texts.no_resonance, figures)};
  return {say(texts.balance_below, figures), texts.of_both};
}

}  // namespace

std::string text_of(const Sweep& sweep, const Words& words) {
  const auto [slowest, fastest] =
      std::minmax_element(sweep.points.begin(), sweep.points.end(),
                          [](const auto& a, const auto& b) { return a.speed_rad_s < b.speed_rad_s; });
  const LogWords& texts = words.commands().log;
  const auto rpm_text = [&](double speed_rad_s, int decimals = 0) {
    return number_text(rpm(speed_rad_s), decimals, words);
  };
  std::string text = say(texts.sweep_head, sweep.file, sweep.points.size(), rpm_text(slowest->speed_rad_s),
                         rpm_text(fastest->speed_rad_s));
  for (const Resonance& r : sweep.resonances) {
    text +=
        say(texts.resonance, r.sensor, measured_text(rpm(r.speed_rad_s), rpm(coverage_factor * r.u_speed_rad_s), words),
            measured_text(100.0 * r.damping_ratio, 100.0 * coverage_factor * r.u_damping_ratio, words),
            rpm_text(r.circle_speed_rad_s, 1), number_text(100.0 * r.circle_damping_ratio, 2, words));
  }
  for (const std::string& sentence : advice_text(sweep, words)) text += say(texts.advice, sentence);
  return text + "\n" + words.commands().holds_for + "\n" + cautions(words);
}

Json document_of(const OrderSpectra& spectra) {
  Json sensors = Json::array();
  for (const OrderSpectrum& s : spectra.sensors) {
    Json amplitudes = Json::array();
    for (const double a : s.amplitudes) amplitudes.push_back(in_display_unit(a, s.motion));
    sensors.push_back({{"name", s.sensor},
                       {"unit", display_unit(s.motion)},
                       {"amplitude_kind", "peak"},
                       {"order_step", s.order_step},
                       {"noise_bandwidth_orders", s.noise_bandwidth},
                       {"amplitudes", amplitudes}});
  }
  return {{"file", spectra.file},
          {"slowest_rpm", rpm(spectra.slowest_rad_s)},
          {"fastest_rpm", rpm(spectra.fastest_rad_s)},
          {"turns", spectra.turns},
          {"stretches", spectra.stretches},
          {"sensors", sensors},
          {"warnings", json_of(spectra.warnings)}};
}

std::string csv_of(const OrderSpectra& spectra) {
  std::string text = "order";
  for (const OrderSpectrum& s : spectra.sensors) text += fmt::format(",{}_peak ({})", s.sensor, display_unit(s.motion));
  text += "\n";
  const OrderSpectrum& first = spectra.sensors.front();
  for (std::size_t i = 0; i < first.amplitudes.size(); ++i) {
    text += fmt::format("{:.6g}", first.order_at(i));
    for (const OrderSpectrum& s : spectra.sensors)
      text += fmt::format(",{:.6g}", in_display_unit(s.amplitudes[i], s.motion));
    text += "\n";
  }
  return text;
}

std::string text_of(const OrderSpectra& spectra, const Words& words) {
  const LogWords& texts = words.commands().log;
  const auto figure = [&](const std::string& number) { return with_decimal_sign(number, words); };
  std::string text =
      say(texts.spectra_head, spectra.file, number_text(spectra.turns, 0, words),
          number_text(rpm(spectra.slowest_rad_s), 0, words), number_text(rpm(spectra.fastest_rad_s), 0, words),
          figure(fmt::format("{:.3g}", spectra.sensors.front().order_step)));
  for (const OrderSpectrum& s : spectra.sensors) {
    for (const std::size_t i : largest_lines(s)) {
      text += say(texts.spectrum_line, s.sensor, figure(fmt::format("{:.4g}", s.order_at(i))),
                  figure(fmt::format("{:.3g}", in_display_unit(s.amplitudes[i], s.motion))), display_unit(s.motion));
    }
  }
  return text + texts.follow_order;
}

Json document_of(const SpeedFrequencyMaps& maps) {
  Json sensors = Json::array();
  for (const SpeedFrequencyMap& map : maps.sensors) {
    Json rows = Json::array();
    for (std::size_t r = 0; r < map.rows(); ++r) {
      Json row = Json::array();
      for (std::size_t i = 0; i < map.lines; ++i) row.push_back(in_display_unit(map.amplitude_at(r, i), map.motion));
      rows.push_back(std::move(row));
    }
    sensors.push_back({{"name", map.sensor},
                       {"unit", display_unit(map.motion)},
                       {"amplitude_kind", "peak"},
                       {"amplitudes", std::move(rows)}});
  }
  const SpeedFrequencyMap& first = maps.sensors.front();
  return {{"file", maps.file},
          {"frequency_step_hz", first.frequency_step_Hz},
          {"times_s", first.times_s},
          {"speeds_rpm", speeds_in_rpm(first.speeds_rad_s)},
          {"sensors", std::move(sensors)},
          {"warnings", json_of(maps.warnings)}};
}

std::string csv_of(const SpeedFrequencyMaps& maps) {
  std::string text = "time_s,speed_rpm,frequency_hz";
  for (const SpeedFrequencyMap& map : maps.sensors)
    text += fmt::format(",{}_peak ({})", map.sensor, display_unit(map.motion));
  text += "\n";
  const SpeedFrequencyMap& first = maps.sensors.front();
  for (std::size_t r = 0; r < first.rows(); ++r) {
    for (std::size_t i = 0; i < first.lines; ++i) {
      fmt::format_to(std::back_inserter(text), "{:.4f},{:.3f},{:.6g}", first.times_s[r], rpm(first.speeds_rad_s[r]),
                     first.frequency_Hz_at(i));
      for (const SpeedFrequencyMap& map : maps.sensors)
        fmt::format_to(std::back_inserter(text), ",{:.5g}", in_display_unit(map.amplitude_at(r, i), map.motion));
      text += '\n';
    }
  }
  return text;
}

std::string text_of(const SpeedFrequencyMaps& maps, const Words& words) {
  const LogWords& texts = words.commands().log;
  const auto figure = [&](const std::string& number) { return with_decimal_sign(number, words); };
  const auto rpm_text = [&](double speed_rad_s) { return number_text(rpm(speed_rad_s), 0, words); };
  const SpeedFrequencyMap& first = maps.sensors.front();
  std::string text =
      say(texts.map_head, maps.file, first.rows(), rpm_text(first.speeds_rad_s.front()),
          rpm_text(first.speeds_rad_s.back()), figure(fmt::format("{:.4g}", first.frequency_Hz_at(first.lines - 1))),
          figure(fmt::format("{:.3g}", first.frequency_step_Hz)));
  for (const SpeedFrequencyMap& map : maps.sensors) {
    const auto top = std::max_element(map.amplitudes.begin(), map.amplitudes.end());
    const auto at = static_cast<std::size_t>(top - map.amplitudes.begin());
    const double frequency_Hz = map.frequency_Hz_at(at % map.lines);
    const double speed_rad_s = map.speeds_rad_s[at / map.lines];
    text += say(texts.moves_most, map.sensor,
                figure(fmt::format("{:.3g}", in_display_unit(static_cast<double>(*top), map.motion))),
                display_unit(map.motion), rpm_text(speed_rad_s), number_text(frequency_Hz, 1, words),
                number_text(frequency_Hz * turn_rad / speed_rad_s, 2, words));
  }
  return text + texts.map_as_numbers;
}

}  // namespace counterspot
