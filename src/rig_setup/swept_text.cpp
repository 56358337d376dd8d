#include <algorithm>
#include <cmath>

#include "counterspot/units/coverage.hpp"

#include "rig_setup/gathered.hpp"

namespace counterspot {

namespace {

Said span_text(const SpeedSpan& span) {
  return said({"{:.0f} to {:.0f} rpm", "{:.0f} bis {:.0f} min⁻¹"}, rpm(span.from_rad_s), rpm(span.to_rad_s));
}

Said listed(const std::vector<SpeedSpan>& spans) {
  Said text = span_text(spans.front());
  for (std::size_t i = 1; i < spans.size(); ++i) text = said({"{}, {}", "{}, {}"}, text, span_text(spans[i]));
  return text;
}

/// What of the range lies outside the spans.
std::vector<SpeedSpan> between(const std::vector<SpeedSpan>& spans, const SpeedSpan& range) {
  std::vector<SpeedSpan> left;
  double from = range.from_rad_s;
  for (const SpeedSpan& span : spans) {
    if (span.from_rad_s > from) left.push_back({from, std::min(span.from_rad_s, range.to_rad_s)});
    from = std::max(from, span.to_rad_s);
  }
  if (from < range.to_rad_s) left.push_back({from, range.to_rad_s});
  return left;
}

/// Of half a half-power width, ζω: modes that overlap move each other's place on a quick coast-down by more than the
/// fit's own ± knows (on simulated rigs by up to 0.55 ζω), so ± ζω is stated at least (common practice, no source).
constexpr double least_of_width = 0.5;

/// What the sensors show of one natural frequency of rig and shaft together.
struct Mode {
  std::vector<Resonance> seen;
  std::string sensors;
  double speed_rad_s = 0.0, u_speed_rad_s = 0.0, damping_ratio = 0.0;

  /// Another sensor shows the same one: nearer than half its half-power width, ζω.
  bool is(const Resonance& other) const {
    return std::ranges::all_of(seen, [&](const Resonance& each) {
      const double width = std::max(each.damping_ratio * each.speed_rad_s, other.damping_ratio * other.speed_rad_s);
      return each.sensor != other.sensor && std::abs(each.speed_rad_s - other.speed_rad_s) < width;
    });
  }
};

/// The weighted mean. Where the sensors differ by more than their ± say, it is enlarged by Birge's ratio, √(χ²/(n −
/// 1)): a mode that is weak at a sensor, beside a strong one, is placed worse than its fit knows. (Birge, Phys. Rev.
/// 40, 1932, from memory.)
void combine(Mode& mode) {
  double weights = 0.0, speeds = 0.0, dampings = 0.0, chi_squared = 0.0;
  for (const Resonance& each : mode.seen) {
    const double weight = 1.0 / (each.u_speed_rad_s * each.u_speed_rad_s);
    weights += weight;
    speeds += weight * each.speed_rad_s;
    dampings += weight * each.damping_ratio;
    mode.sensors += (mode.sensors.empty() ? "" : ", ") + each.sensor;
  }
  mode.speed_rad_s = speeds / weights;
  mode.damping_ratio = dampings / weights;
  for (const Resonance& each : mode.seen)
    chi_squared += std::pow((each.speed_rad_s - mode.speed_rad_s) / each.u_speed_rad_s, 2);
  const auto others = static_cast<double>(mode.seen.size() - 1);
  const double birge = others > 0.0 ? std::max(1.0, std::sqrt(chi_squared / others)) : 1.0;
  mode.u_speed_rad_s = std::max(birge / std::sqrt(weights), least_of_width * mode.damping_ratio * mode.speed_rad_s);
}

std::vector<Mode> modes_of(std::vector<Resonance> resonances) {
  std::ranges::sort(resonances, {}, &Resonance::speed_rad_s);
  std::vector<Mode> modes;
  for (const Resonance& each : resonances) {
    if (modes.empty() || !modes.back().is(each)) modes.emplace_back();
    modes.back().seen.push_back(each);
  }
  for (Mode& mode : modes) combine(mode);
  return modes;
}

}  // namespace

std::vector<Said> swept_text(const Sweep& sweep, const SpeedSpan& range, double balancing_rad_s) {
  if (sweep.resonances.empty())
    return {
        said({"swept {}: no resonance stands out", "durchfahren {}: keine Resonanz tritt hervor"}, span_text(range))};
  std::vector<Said> text;
  for (const Mode& each : modes_of(sweep.resonances))
    text.push_back(said({"resonance with the shaft on, at sensor {}: {:.1f} ± {:.1f} rpm, damping {:.1f} %",
                         "Resonanz mit Welle, an Aufnehmer {}: {:.1f} ± {:.1f} min⁻¹, Dämpfung {:.1f} %"},
                        each.sensors, rpm(each.speed_rad_s), rpm(coverage_factor * each.u_speed_rad_s),
                        100.0 * each.damping_ratio));
  const std::vector<SpeedSpan> shunned = speeds_to_keep_from(sweep.resonances);
  text.push_back(said({"keep from {} with such a shaft", "mit einer solchen Welle {} meiden"}, listed(shunned)));
  const std::vector<SpeedSpan> left = between(shunned, range);
  text.push_back(left.empty() ? said({"no speed of those swept, {}, is away from them",
                                      "keine der durchfahrenen Drehzahlen, {}, ist fern davon"},
                                     span_text(range))
                              : said({"good balancing speeds, of those swept: {}; how fast a shaft may turn, "
                                      "'counterspot shaft' says, and the lower speed holds",
                                      "gute Auswuchtdrehzahlen, von den durchfahrenen: {}; wie schnell eine Welle "
                                      "drehen darf, sagt 'counterspot shaft', und die niedrigere Drehzahl gilt"},
                                     listed(left)));
  const bool among = std::any_of(shunned.begin(), shunned.end(), [&](const SpeedSpan& span) {
    return balancing_rad_s > span.from_rad_s && balancing_rad_s < span.to_rad_s;
  });
  if (among)
    text.push_back(said({"the {:.0f} rpm of the proof are among those to keep from: choose another speed",
                         "die {:.0f} min⁻¹ des Beweises gehören zu den zu meidenden: eine andere Drehzahl wählen"},
                        rpm(balancing_rad_s)));
  return text;
}

}  // namespace counterspot
