#include <algorithm>
#include <cmath>

#include "algebra/median.hpp"
#include "counterspot/rig_setup/findings.hpp"
#include "rig_setup/quiet.hpp"

namespace counterspot {

namespace {

// Margins: common practice, no source.
constexpr double block_s = 0.5;
constexpr double least_steady_s = 2.0;
constexpr double steady_part = 0.03;
constexpr double other_part = 0.3;  // of the tone: noise and distortion, which hardly move its size
constexpr double frequency_part = 0.02;
constexpr double near_full_scale = 0.99;

struct Stretch {
  std::size_t begin = 0, end = 0;
};

/// About its own mean: a level may drift.
double rms_of(const std::vector<double>& x, std::size_t begin, std::size_t count) {
  double sum = 0.0, squares = 0.0;
  for (std::size_t i = begin; i < begin + count; ++i) {
    sum += x[i];
    squares += x[i] * x[i];
  }
  const double mean = sum / static_cast<double>(count);
  return std::sqrt(std::max(0.0, squares / static_cast<double>(count) - mean * mean));
}

/// The longest run of blocks whose size is that of the louder half: before and after, the sensor is put on and taken
/// off.
Stretch steadiest(const std::vector<double>& x, std::size_t block) {
  std::vector<double> sizes;
  for (std::size_t i = 0; i + block <= x.size(); i += block) sizes.push_back(rms_of(x, i, block));
  std::vector<double> louder = sizes;
  std::sort(louder.begin(), louder.end());
  louder.erase(louder.begin(), louder.begin() + static_cast<std::ptrdiff_t>(louder.size() / 2));
  const double usual = median_of(louder);
  Stretch best, now;
  for (std::size_t b = 0; b < sizes.size(); ++b) {
    const bool alike = std::abs(sizes[b] - usual) <= steady_part * usual;
    if (!alike || now.end != b * block) now = {b * block, b * block};
    if (alike) now.end = (b + 1) * block;
    if (now.end - now.begin > best.end - best.begin) best = now;
  }
  return best;
}

/// From the first rise through the level to the last, each between two samples; a rise counts after the signal was half
/// its size below.
double frequency_of(const std::vector<double>& x, const Stretch& in, double level, double rms, double rate_Hz) {
  double first = 0.0, last = 0.0;
  int cycles = -1;
  bool below = false;
  for (std::size_t i = in.begin + 1; i < in.end; ++i) {
    below = below || x[i] - level < -0.5 * rms;
    if (!below || x[i] < level) continue;
    const double at = static_cast<double>(i) - (x[i] - level) / (x[i] - x[i - 1]);
    if (++cycles == 0) first = at;
    last = at;
    below = false;
  }
  return cycles > 0 ? cycles * rate_Hz / (last - first) : 0.0;
}

/// Root mean square of the tone over whole cycles of it: its two parts by correlation.
double tone_rms(const std::vector<double>& x, std::size_t begin, std::size_t block, double frequency_Hz, double rate_Hz,
                double level) {
  const double cycle = rate_Hz / frequency_Hz;
  const auto count = static_cast<std::size_t>(std::lround(std::floor(static_cast<double>(block) / cycle) * cycle));
  double re = 0.0, im = 0.0;
  for (std::size_t i = 0; i < count; ++i) {
    const double angle = turn_rad * frequency_Hz * static_cast<double>(i) / rate_Hz;
    re += (x[begin + i] - level) * std::cos(angle);
    im += (x[begin + i] - level) * std::sin(angle);
  }
  return std::sqrt(2.0) * std::hypot(re, im) / static_cast<double>(count);
}

Said on_shaker_alone() {
  return said({"hold the sensor on the running shaker alone, tight and upright, for ten seconds",
               "den Aufnehmer allein auf den laufenden Schwinger halten, fest und gerade, zehn Sekunden lang"});
}

}  // namespace

FoundOrAgain<ShakerFinding> find_shaker(const Take& take, std::size_t channel) {
  const std::vector<double>& x = take.channels.at(channel);
  const auto block = static_cast<std::size_t>(block_s * take.sample_rate_Hz);
  const Quiet quiet = quiet_of(x);
  if (take.full_scale && quiet.largest + std::abs(quiet.level) >= near_full_scale)
    return Again{said({"channel {} reaches full scale", "Kanal {} erreicht die Aussteuerungsgrenze"}, channel + 1),
                 said({"lower the gain, and repeat all steps with it: full scale is another then",
                       "die Verstärkung verringern und alle Schritte damit wiederholen: die Aussteuerungsgrenze ist "
                       "dann eine andere"})};
  const Stretch steady = steadiest(x, block);
  const double steady_s = static_cast<double>(steady.end - steady.begin) / take.sample_rate_Hz;
  const double rms = steady_s > 0.0 ? rms_of(x, steady.begin, steady.end - steady.begin) : 0.0;
  if (steady_s < least_steady_s || !(rms > 0.0))
    return Again{said({"channel {} shows nothing steady for two seconds: {:.1f} s",
                       "Kanal {} zeigt nichts, das zwei "
                       "Sekunden lang gleich bleibt: {:.1f} s"},
                      channel + 1, steady_s),
                 on_shaker_alone()};
  ShakerFinding found;
  found.frequency_Hz = frequency_of(x, steady, quiet.level, rms, take.sample_rate_Hz);
  const double asked_Hz = shaker_rad_s / turn_rad;
  if (std::abs(found.frequency_Hz / asked_Hz - 1.0) > frequency_part)
    return Again{said({"channel {} shows {:.1f} Hz, and the shaker is to run at {:.1f} Hz",
                       "Kanal {} zeigt {:.1f} Hz, und der Schwinger soll mit {:.1f} Hz laufen"},
                      channel + 1, found.frequency_Hz, asked_Hz),
                 said({"use a shaker of 10 m/s2 rms at 159.2 Hz (1000 rad/s), or type the sensitivity from the "
                       "certificate",
                       "einen Schwinger mit 10 m/s2 effektiv bei 159,2 Hz (1000 rad/s) nehmen oder die "
                       "Empfindlichkeit vom Zertifikat eingeben"})};
  double least = 1e300, most = 0.0, sum = 0.0;
  int blocks = 0;
  for (std::size_t at = steady.begin; at + block <= steady.end; at += block, ++blocks) {
    const double size = tone_rms(x, at, block, found.frequency_Hz, take.sample_rate_Hz, quiet.level);
    least = std::min(least, size);
    most = std::max(most, size);
    sum += size;
  }
  found.volts_rms = {sum / blocks, 0.5 * (most - least)};
  const double other = std::sqrt(std::max(0.0, rms * rms - std::pow(found.volts_rms.value, 2)));
  if (other > other_part * found.volts_rms.value || most - least > 2.0 * steady_part * found.volts_rms.value)
    return Again{said({"channel {} shows no clean tone: {:.0f} % beside it, its size within ± {:.1f} %",
                       "Kanal {} zeigt keinen reinen Ton: {:.0f} % daneben, seine Größe auf ± {:.1f} %"},
                      channel + 1, 100.0 * other / found.volts_rms.value,
                      100.0 * found.volts_rms.plus_minus / found.volts_rms.value),
                 on_shaker_alone()};
  for (std::size_t c = 0; c < take.channels.size(); ++c) {
    if (c == channel) continue;
    const double there = tone_rms(take.channels[c], steady.begin, steady.end - steady.begin, found.frequency_Hz,
                                  take.sample_rate_Hz, quiet_of(take.channels[c]).level);
    if (there < found.volts_rms.value) continue;
    return Again{said({"channel {} shows the shaker more than channel {}",
                       "Kanal {} zeigt den Schwinger stärker als "
                       "Kanal {}"},
                      c + 1, channel + 1),
                 said({"put the sensor that was asked for on the shaker",
                       "den verlangten Aufnehmer auf den Schwinger "
                       "halten"})};
  }
  return found;
}

}  // namespace counterspot
