#include <algorithm>

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

}  // namespace

std::vector<Said> swept_text(const Sweep& sweep, const SpeedSpan& range, double balancing_rad_s) {
  if (sweep.resonances.empty())
    return {
        said({"swept {}: no resonance stands out", "durchfahren {}: keine Resonanz tritt hervor"}, span_text(range))};
  std::vector<Said> text;
  for (const Resonance& each : sweep.resonances)
    text.push_back(said({"resonance at sensor {}, shaft on: {:.0f} ± {:.0f} rpm, damping {:.1f} %",
                         "Resonanz an Aufnehmer {}, mit Welle: {:.0f} ± {:.0f} min⁻¹, Dämpfung {:.1f} %"},
                        each.sensor, rpm(each.speed_rad_s), rpm(2.0 * each.u_speed_rad_s), 100.0 * each.damping_ratio));
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
