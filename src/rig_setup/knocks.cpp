#include <algorithm>
#include <cmath>

#include "algebra/median.hpp"
#include "counterspot/rig_setup/findings.hpp"
#include "rig_setup/quiet.hpp"

namespace counterspot {

namespace {

constexpr double event_share = 0.3;        // of the largest knock
constexpr double event_over_before = 2.5;  // over what rang on just before
constexpr double before_s = 0.15;          // one period of the softest pedestal
constexpr double dead_s = 0.4;             // two knocks do not follow sooner
constexpr double swing_share = 0.15;       // of its knock: a swing that counts as the first
constexpr double first_s = 0.05;           // in which a knock begins
constexpr double contact_s = 0.012;        // after which the hammer is off
constexpr double ring_s = 1.5;
constexpr double full_scale_share = 0.98;

constexpr SaidWords knock_anew = {
    "knock three times, two seconds apart, on the side of the pedestal away from its sensor, and touch nothing else "
    "meanwhile",
    "dreimal klopfen, im Abstand von zwei Sekunden, auf der vom Aufnehmer abgewandten Seite des Lagerbocks, und dabei "
    "nichts anderes berühren"};

Again again(Said why, const SaidWords& instead = knock_anew) {
  return {std::move(why), said(instead)};
}

std::vector<std::size_t> blows_in(const std::vector<double>& samples, const Quiet& quiet, double rate_Hz) {
  const auto frames = [&](double s) { return static_cast<std::size_t>(s * rate_Hz); };
  std::vector<std::size_t> blows;
  for (std::size_t i = 0; i < samples.size(); ++i) {
    const double off = std::abs(samples[i] - quiet.level);
    if (off < event_share * quiet.largest) continue;
    if (!blows.empty() && i < blows.back() + frames(dead_s)) continue;
    double before = 0.0;
    for (std::size_t k = i > frames(before_s) ? i - frames(before_s) : 0; k + frames(0.01) < i; ++k)
      before = std::max(before, std::abs(samples[k] - quiet.level));
    if (off > event_over_before * before) blows.push_back(i);
  }
  return blows;
}

/// The largest that a channel shows within a knock.
double size_at(const std::vector<double>& samples, const Quiet& quiet, std::size_t at, double rate_Hz) {
  double largest = 0.0;
  const std::size_t end = std::min(samples.size(), at + static_cast<std::size_t>(0.1 * rate_Hz));
  for (std::size_t i = at; i < end; ++i) largest = std::max(largest, std::abs(samples[i] - quiet.level));
  return largest;
}

/// Where a knock is first seen beyond a threshold, up to a little after it was found; empty: not.
std::optional<std::size_t> first_seen(const std::vector<double>& samples, const Quiet& quiet, std::size_t at,
                                      double rate_Hz, double threshold) {
  const auto reach = static_cast<std::size_t>(first_s * rate_Hz);
  for (std::size_t i = at > reach / 5 ? at - reach / 5 : 0; i < std::min(samples.size(), at + reach); ++i)
    if (std::abs(samples[i] - quiet.level) > threshold) return i;
  return std::nullopt;
}

/// Mean and half the range, if that is no more than a part of it.
std::optional<Spread> agreed(const std::vector<double>& values, double most_part) {
  if (values.size() < knocks_asked) return std::nullopt;
  const auto [low, high] = std::minmax_element(values.begin(), values.end());
  const Spread spread{0.5 * (*low + *high), 0.5 * (*high - *low)};
  if (spread.plus_minus > most_part * spread.value) return std::nullopt;
  return spread;
}

void add_ring_downs(KnockFinding& finding, const std::vector<double>& samples, const Quiet& quiet,
                    const std::vector<std::size_t>& blows, double rate_Hz) {
  std::vector<double> frequencies, dampings, corners;
  for (std::size_t b = 0; b < blows.size(); ++b) {
    const std::size_t begin = blows[b] + static_cast<std::size_t>(contact_s * rate_Hz);
    std::size_t end = std::min(samples.size(), begin + static_cast<std::size_t>(ring_s * rate_Hz));
    if (b + 1 < blows.size()) end = std::min(end, blows[b + 1] - static_cast<std::size_t>(0.02 * rate_Hz));
    if (end <= begin + 32) return;
    std::vector<double> ring(samples.begin() + static_cast<std::ptrdiff_t>(begin),
                             samples.begin() + static_cast<std::ptrdiff_t>(end));
    for (double& x : ring) x -= quiet.level;
    const auto fit = fit_ring_down(ring, rate_Hz);
    if (!fit) return;
    frequencies.push_back(fit->frequency_Hz);
    dampings.push_back(fit->damping);
    if (fit->high_pass_Hz) corners.push_back(*fit->high_pass_Hz);
  }
  finding.natural_frequency_Hz = agreed(frequencies, 0.03);
  if (finding.natural_frequency_Hz) finding.damping = agreed(dampings, 0.3);
  if (finding.natural_frequency_Hz) finding.high_pass_Hz = agreed(corners, 0.1);
}

/// The channel whose largest event is the largest of all that stand out of their noise: a tach at rest may have much
/// noise, and no more.
std::optional<std::size_t> knocked_channel(const std::vector<Quiet>& quiet) {
  std::optional<std::size_t> channel;
  double best = 0.0;
  for (std::size_t c = 0; c < quiet.size(); ++c) {
    if (quiet[c].largest <= std::max(best, knock_over_noise * quiet[c].noise)) continue;
    best = quiet[c].largest;
    channel = c;
  }
  return channel;
}

/// Of one knock: where its channel first shows it, and how large.
struct Blow {
  std::size_t first = 0;
  double size = 0.0;
};

/// Holds a knock against what the other channels show of it.
std::optional<Again> compare_with_others(const Take& take, const std::vector<Quiet>& quiet, const Blow& blow,
                                         KnockFinding& finding) {
  for (std::size_t c = 0; c < take.channels.size(); ++c) {
    if (c == finding.channel) continue;
    const double other = size_at(take.channels[c], quiet[c], blow.first, take.sample_rate_Hz);
    if (other <= knock_over_noise * quiet[c].noise) continue;  // it shows none of it
    finding.over_others = std::min(finding.over_others, blow.size / other);
    const double threshold = std::max(knock_over_noise * quiet[c].noise, swing_share * other);
    const auto there = first_seen(take.channels[c], quiet[c], blow.first, take.sample_rate_Hz, threshold);
    if (there && *there + 1 < blow.first) {
      return again(said({"channel {} shows a knock before channel {} does, which is larger",
                         "Kanal {} zeigt einen Schlag früher als Kanal {}, der ihn größer zeigt"},
                        c + 1, finding.channel + 1));
    }
  }
  return std::nullopt;
}

}  // namespace

FoundOrAgain<KnockFinding> find_knocks(const Take& take) {
  const double rate_Hz = take.sample_rate_Hz;
  std::vector<Quiet> quiet;
  for (const auto& samples : take.channels) quiet.push_back(quiet_of(samples));
  const auto channel = knocked_channel(quiet);
  if (!channel)
    return again(
        said({"no knock stands out of the noise in any channel", "in keinem Kanal ragt ein Schlag aus dem Rauschen"}));
  KnockFinding finding;
  finding.channel = *channel;
  finding.over_others = finding.over_noise = 1e9;
  const auto& samples = take.channels[finding.channel];
  const Quiet& own = quiet[finding.channel];
  if (take.full_scale && std::abs(own.level) + own.largest > full_scale_share)
    return again(
        said({"a knock reached the end of the range of channel {}", "ein Schlag hat Kanal {} voll ausgesteuert"},
             finding.channel + 1),
        {"knock more softly, or lower the gain, and then leave it so",
         "sachter klopfen, oder die Verstärkung verringern und dann so lassen"});
  const std::vector<std::size_t> blows = blows_in(samples, own, rate_Hz);
  if (blows.size() != static_cast<std::size_t>(knocks_asked))
    return again(said({"{} knocks are seen where {} were asked for", "{} Schläge sind zu sehen, wo {} verlangt waren"},
                      blows.size(), knocks_asked));

  int rising = 0;
  for (const std::size_t at : blows) {
    const double size = size_at(samples, own, at, rate_Hz);
    const double threshold = std::max(knock_over_noise * own.noise, swing_share * size);
    const auto first = first_seen(samples, own, at, rate_Hz, threshold);
    if (!first)
      return again(said({"a knock is hardly more than the noise", "ein Schlag ist kaum mehr als das Rauschen"}),
                   {"knock harder", "kräftiger klopfen"});
    rising += samples[*first] > own.level ? 1 : 0;
    finding.over_noise = std::min(finding.over_noise, size / std::max(own.noise, 1e-12));
    if (auto earlier = compare_with_others(take, quiet, {*first, size}, finding)) return *earlier;
  }
  if (finding.over_others < knock_over_others)
    return again(said({"two channels show the knocks almost alike", "zwei Kanäle zeigen die Schläge fast gleich"}),
                 {"knock on the pedestal itself, close to its sensor",
                  "auf den Lagerbock selbst klopfen, nahe an seinem Aufnehmer"});
  if (rising != 0 && rising != knocks_asked)
    return again(said({"the knocks do not all push the same way at first",
                       "die Schläge drücken anfangs nicht alle in dieselbe Richtung"}),
                 {"knock three times on the same spot, away from the sensor and in line with it",
                  "dreimal auf dieselbe Stelle klopfen, dem Aufnehmer gegenüber und in seiner Richtung"});
  finding.inverted = rising == 0;
  add_ring_downs(finding, samples, own, blows, rate_Hz);
  return finding;
}

}  // namespace counterspot
