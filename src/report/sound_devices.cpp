#include "report/sound_devices.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/drawing/words.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

constexpr double softest_dB = -60.0;

std::string channels_text(const SoundDevice& device) {
  return device.least_channels == device.most_channels
             ? fmt::format("{}", device.most_channels)
             : fmt::format("{}-{}", device.least_channels, device.most_channels);
}

Said device_line(const SoundDevice& device) {
  if (device.trouble)
    return said({"{}  {}  ({})", "{}  {}  ({})"}, device.source, sentence_of(*device.trouble), device.description);
  return said({"{}  {}  ({})", "{}  {}  ({})"}, device.source, offers_text(device), device.description);
}

std::string bar_of(double peak, int cells) {
  const double level_dB = peak > 0.0 ? 20.0 * std::log10(peak) : softest_dB;
  const double share = std::clamp(1.0 - level_dB / softest_dB, 0.0, 1.0);
  const int full = static_cast<int>(std::lround(share * cells));
  const std::string level = level_dB > softest_dB ? fmt::format("{}", std::lround(level_dB)) : "<-60";
  return fmt::format("{}{} {:>4} dB", std::string(static_cast<std::size_t>(full), '#'),
                     std::string(static_cast<std::size_t>(cells - full), '-'), level);
}

}  // namespace

Said offers_text(const SoundDevice& device) {
  std::string rates;
  for (const double rate_Hz : device.rates_Hz) rates += fmt::format("{}{:g}", rates.empty() ? "" : " ", rate_Hz / 1e3);
  std::string formats;
  for (const RawFormat format : device.formats) formats += fmt::format(", {}", raw_format_name(format));
  return said({"channels: {}; {} kHz{}", "Kanäle: {}; {} kHz{}"}, channels_text(device), rates, formats);
}

std::string record_options_text(const SoundDevice& device) {
  const LiveOptions best = best_of(device);
  return fmt::format("--source {} --rate \"{:g} kHz\" --channels {}", device.source, best.sample_rate_Hz / 1e3,
                     best.channels);
}

Json document_of(const std::vector<SoundDevice>& devices) {
  Json all = Json::array();
  for (const SoundDevice& device : devices) {
    Json formats = Json::array();
    for (const RawFormat format : device.formats) formats.push_back(raw_format_name(format));
    all.push_back({{"source", device.source},
                   {"description", device.description},
                   {"least_channels", device.least_channels},
                   {"most_channels", device.most_channels},
                   {"rates_Hz", device.rates_Hz},
                   {"formats", formats},
                   {"trouble", device.trouble ? Json(device.trouble->what()) : Json(nullptr)},
                   {"remedy", device.trouble ? Json(device.trouble->remedy()) : Json(nullptr)}});
  }
  return all;
}

std::vector<Said> sound_device_lines(const std::vector<SoundDevice>& devices) {
  std::vector<Said> lines;
  for (const SoundDevice& device : devices) lines.push_back(device_line(device));
  if (lines.empty())
    lines.push_back(said({"no sound device is found: give a recording of each step, or --source raw:PATH, or a pipe",
                          "kein Tongerät gefunden: zu jedem Schritt eine Aufnahme angeben, oder --source raw:PFAD, "
                          "oder eine Pipe"}));
  return lines;
}

std::string level_bars(std::span<const double> peaks) {
  constexpr int columns = 70;
  const int cells = std::clamp(columns / std::max(1, static_cast<int>(peaks.size())) - 13, 4, 30);
  std::string bars;
  for (std::size_t c = 0; c < peaks.size(); ++c) bars += fmt::format("  {} {}", c + 1, bar_of(peaks[c], cells));
  return bars;
}

}  // namespace counterspot
