#include "tracking/sweep_advice.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

namespace counterspot {
std::vector<SpeedSpan> speeds_to_keep_from(const std::vector<Resonance>& resonances) {
  std::vector<SpeedSpan> each;
  for (const Resonance& r : resonances) {
    const double away = std::max(0.3, 10.0 * r.damping_ratio);
    each.push_back({(r.speed_rad_s - 2.0 * r.u_speed_rad_s) * (1.0 - std::min(away, 0.5)),
                    (r.speed_rad_s + 2.0 * r.u_speed_rad_s) * (1.0 + away)});
  }
  std::sort(each.begin(), each.end(), [](const auto& a, const auto& b) { return a.from_rad_s < b.from_rad_s; });
  std::vector<SpeedSpan> merged;
  for (const SpeedSpan& one : each) {
    if (merged.empty() || one.from_rad_s > merged.back().to_rad_s) merged.push_back(one);
    merged.back().to_rad_s = std::max(merged.back().to_rad_s, one.to_rad_s);
  }
  return merged;
}

std::vector<std::string> advice_on(const Sweep& sweep) {
  const auto [slowest, fastest] =
      std::minmax_element(sweep.points.begin(), sweep.points.end(),
                          [](const auto& a, const auto& b) { return a.speed_rad_s < b.speed_rad_s; });
  if (sweep.resonances.empty()) {
    return {
        fmt::format("no resonance stands out between {:.0f} and {:.0f} rpm; if one is expected there, sweep slower, "
                    "further, or with a trial weight on",
                    rpm(slowest->speed_rad_s), rpm(fastest->speed_rad_s))};
  }
  const std::vector<SpeedSpan> shunned = speeds_to_keep_from(sweep.resonances);
  std::vector<std::string> spans;
  for (const SpeedSpan& span : shunned)
    spans.push_back(fmt::format("between {:.0f} and {:.0f} rpm", rpm(span.from_rad_s), rpm(span.to_rad_s)));
  return {
      fmt::format("balance a stiff shaft below {:.0f} rpm, and do not dwell {}", rpm(shunned.front().from_rad_s),
                  fmt::join(spans, ", nor ")),
      "these are resonances of rig and shaft together, not critical speeds of the shaft: those, and how fast it may "
      "turn, `counterspot shaft` says; the lower speed holds"};
}

}  // namespace counterspot
