#include <algorithm>

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

/// A mode, and the sensors that show it: those of one motion were fitted at once, and say the same of it.
struct ModeShown {
  const Resonance* mode = nullptr;
  std::string sensors;
};

std::vector<ModeShown> modes_shown(const std::vector<Resonance>& resonances) {
  std::vector<ModeShown> modes;
  for (const Resonance& each : resonances) {
    const auto same = std::ranges::find_if(modes, [&](const ModeShown& shown) {
      return shown.mode->speed_rad_s == each.speed_rad_s && shown.mode->damping_ratio == each.damping_ratio;
    });
    if (same == modes.end())
      modes.push_back({&each, each.sensor});
    else
      same->sensors += ", " + each.sensor;
  }
  std::ranges::sort(modes, {}, [](const ModeShown& shown) { return shown.mode->speed_rad_s; });
  return modes;
}

}  // namespace

std::vector<Said> swept_text(const Sweep& sweep, const SpeedSpan& range, double balancing_rad_s) {
  if (sweep.resonances.empty())
    return {
        said({"swept {}: no resonance stands out", "durchfahren {}: keine Resonanz tritt hervor"}, span_text(range))};
  std::vector<Said> text;
  for (const auto& [mode, sensors] : modes_shown(sweep.resonances))
    text.push_back(said({"resonance with the shaft on, at sensor {}: {:.1f} ± {:.1f} rpm, damping {:.1f} %",
                         "Resonanz mit Welle, an Aufnehmer {}: {:.1f} ± {:.1f} min⁻¹, Dämpfung {:.1f} %"},
                        sensors, rpm(mode->speed_rad_s), rpm(coverage_factor * mode->u_speed_rad_s),
                        100.0 * mode->damping_ratio));
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
