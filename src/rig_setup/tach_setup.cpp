#include <algorithm>
#include <cmath>

#include "algebra/median.hpp"
#include "counterspot/rig_setup/findings.hpp"
#include "counterspot/units/angle.hpp"
#include "rig_setup/quiet.hpp"
#include "tach/edge_finder.hpp"
#include "tach/pulse_pattern.hpp"

namespace counterspot {

namespace {

constexpr double over_noise = 20.0;
constexpr double both_ways = 0.15;  // of the range lies on the other side of the level: it is not held there
constexpr double most_mark_share = 0.25;
constexpr double most_height_spread = 0.3;
constexpr double twice_as_steady = 2.0;
constexpr double steady_enough_turns = 0.2 / 360.0;
constexpr int least_turns = 20;

/// A signal with few pulses as two thresholds see it: where marks come and where they go.
struct Edges {
  std::vector<double> up_frame, down_frame;
};

struct Reach {
  double level, above, below, noise;

  double range() const { return above + below; }
  bool high_passed() const { return std::min(above, below) > both_ways * range(); }
};

Reach reach_of(const std::vector<double>& samples) {
  const Quiet quiet = quiet_of(samples);
  const auto [low, high] = std::minmax_element(samples.begin(), samples.end());
  return {quiet.level, *high - quiet.level, quiet.level - *low, quiet.noise};
}

std::vector<double> crossings(const std::vector<double>& samples, double level, double hysteresis, Edge edge) {
  EdgeFinder finder(level, hysteresis, edge);
  std::vector<Pulse> pulses;
  finder.push(samples.data(), samples.size(), 1, pulses);
  finder.finish(pulses);
  std::vector<double> frames;
  for (const Pulse& pulse : pulses) frames.push_back(pulse.edge_frame);
  return frames;
}

/// Half way between the level at rest and the tops; where these are not held, on each side of it by itself.
Edges edges_of(const std::vector<double>& samples, const Reach& reach) {
  const double over = reach.level + 0.5 * reach.above;
  const double under = reach.level - 0.5 * reach.below;
  const double up_at = reach.high_passed() || reach.above > reach.below ? over : under;
  const double down_at = reach.high_passed() || reach.above < reach.below ? under : over;
  const auto hysteresis = [&](double at) { return 0.8 * std::abs(at - reach.level); };
  return {crossings(samples, up_at, hysteresis(up_at), Edge::rising),
          crossings(samples, down_at, hysteresis(down_at), Edge::falling)};
}

/// From each of the one to the next of the other.
std::vector<double> gaps(const std::vector<double>& from, const std::vector<double>& to) {
  std::vector<double> all;
  for (const double frame : from) {
    const auto next = std::upper_bound(to.begin(), to.end(), frame);
    if (next != to.end()) all.push_back(*next - frame);
  }
  return all;
}

Again no_tach(Said why, Said instead) {
  return {std::move(why), std::move(instead)};
}

/// How far the tops of the pulses reach, largest over smallest less one.
double height_spread(const std::vector<double>& samples, const Reach& reach, const std::vector<double>& begins,
                     double mark_frames, bool falls) {
  double least = 1e300, most = 0.0;
  for (const double begin : begins) {
    double top = 0.0;
    const auto from = static_cast<std::size_t>(begin);
    const auto to = std::min(samples.size(), from + static_cast<std::size_t>(mark_frames) + 3);
    for (std::size_t i = from; i < to; ++i) top = std::max(top, (falls ? -1.0 : 1.0) * (samples[i] - reach.level));
    least = std::min(least, top);
    most = std::max(most, top);
  }
  return most / std::max(least, 1e-12) - 1.0;
}

/// Fifth differences of edge times over whole turns: a wandering speed leaves little in them.
std::vector<double> fifth_differences(const std::vector<double>& frames, std::size_t per_turn, std::size_t count) {
  std::vector<double> all;
  for (std::size_t i = 5 * per_turn; i < count; ++i) {
    const auto at = [&](std::size_t turns) { return frames[i - turns * per_turn]; };
    all.push_back(at(0) - 5.0 * at(1) + 10.0 * at(2) - 10.0 * at(3) + 5.0 * at(4) - at(5));
  }
  return all;
}

/// Standard deviations of one edge of each kind. What is left of the speed is common to both, so it is in the product
/// of the two and not in what each square is beyond it.
std::pair<double, double> jitters_frames(const std::vector<double>& leading, std::vector<double> trailing,
                                         std::size_t per_turn) {
  while (!trailing.empty() && trailing.front() < leading.front()) trailing.erase(trailing.begin());
  const std::size_t count = std::min(leading.size(), trailing.size());
  const std::vector<double> first = fifth_differences(leading, per_turn, count);
  const std::vector<double> second = fifth_differences(trailing, per_turn, count);
  double own_first = 0.0, own_second = 0.0;
  for (std::size_t i = 0; i < first.size(); ++i) {
    own_first += first[i] * (first[i] - second[i]);
    own_second += second[i] * (second[i] - first[i]);
  }
  constexpr double squares_of_binomials = 252.0;
  const double of_one = squares_of_binomials * static_cast<double>(std::max<std::size_t>(first.size(), 1));
  return {std::sqrt(std::max(0.0, own_first) / of_one), std::sqrt(std::max(0.0, own_second) / of_one)};
}

/// The corner that explains how the height falls from shortly after a mark comes to shortly before it goes.
std::optional<double> corner_of(const std::vector<double>& samples, const Reach& reach,
                                const std::vector<double>& begins, double mark_frames, double rate_Hz) {
  std::vector<double> corners;
  const double skip = 3.0;
  if (mark_frames < 4.0 * skip) return std::nullopt;
  for (const double begin : begins) {
    const auto first = static_cast<std::size_t>(begin + skip),
               last = static_cast<std::size_t>(begin + mark_frames - skip);
    if (last >= samples.size()) continue;
    const double ratio = (samples[last] - reach.level) / (samples[first] - reach.level);
    if (!(ratio > 0.0)) continue;
    corners.push_back(-std::log(ratio) * rate_Hz / static_cast<double>(last - first) / turn_rad);
  }
  if (corners.size() < static_cast<std::size_t>(least_turns)) return std::nullopt;
  const double corner_Hz = median_of(corners);
  for (double& c : corners) c = std::abs(c - corner_Hz);
  const double scatter = 1.4826 * median_of(corners);
  if (corner_Hz < 0.5 || scatter > 0.5 * corner_Hz) return std::nullopt;
  return corner_Hz;
}

}  // namespace

FoundOrAgain<HandTurnFinding> find_tach(const Take& take, int turns, const std::vector<std::size_t>& sensors) {
  HandTurnFinding found;
  std::vector<std::size_t> with_pulses;
  for (std::size_t c = 0; c < take.channels.size(); ++c) {
    if (std::find(sensors.begin(), sensors.end(), c) != sensors.end()) continue;
    const Reach reach = reach_of(take.channels[c]);
    if (reach.range() > over_noise * std::max(reach.noise, 1e-9)) with_pulses.push_back(c);
  }
  if (with_pulses.empty())
    return no_tach(
        said({"no channel but the sensors' shows pulses", "kein Kanal außer denen der Aufnehmer zeigt Impulse"}),
        said({"see that the tach has its supply and that its spot falls on the mark, and turn again",
              "prüfen, ob der Drehzahlgeber Strom hat und sein Lichtfleck auf die Marke fällt, und noch "
              "einmal drehen"}));
  if (with_pulses.size() > 1)
    return no_tach(said({"channels {} and {} both show pulses", "die Kanäle {} und {} zeigen beide Impulse"},
                        with_pulses[0] + 1, with_pulses[1] + 1),
                   said({"unplug what is neither a sensor nor the tach, and turn again",
                         "abstecken, was weder Aufnehmer noch Drehzahlgeber ist, und noch einmal drehen"}));
  found.channel = with_pulses.front();
  const auto& samples = take.channels[found.channel];
  const Reach reach = reach_of(samples);
  const Edges edges = edges_of(samples, reach);
  found.high_passed = reach.high_passed();
  if (edges.up_frame.size() < 2 || edges.down_frame.size() < 2)
    return no_tach(said({"the tach's pulses are too few", "der Drehzahlgeber gibt zu wenige Impulse"}),
                   said({"turn {} whole turns, without a stop", "{} ganze Umdrehungen drehen, ohne Halt"}, turns));
  // The mark is the short one of the two states.
  const double upper = median_of(gaps(edges.up_frame, edges.down_frame));
  const double lower = median_of(gaps(edges.down_frame, edges.up_frame));
  found.pulses_fall = lower < upper;
  if (std::min(upper, lower) > most_mark_share * (upper + lower))
    return no_tach(said({"the tach sees mark and shaft for almost the same time",
                         "der Drehzahlgeber sieht Marke und Welle fast gleich lang"}),
                   said({"make the mark narrower, or set the tach closer, and turn again",
                         "die Marke schmaler machen oder den Drehzahlgeber näher setzen, und noch einmal drehen"}));
  const auto& begins = found.pulses_fall ? edges.down_frame : edges.up_frame;
  if (height_spread(samples, reach, begins, std::min(upper, lower), found.pulses_fall) > most_height_spread)
    return no_tach(said({"the tach's pulses are not all of one height: something else shines beside the mark",
                         "die Impulse sind nicht alle gleich hoch: neben der Marke glänzt noch etwas"}),
                   said({"blacken what glares, clean the mark, and turn again",
                         "schwärzen, was glänzt, die Marke reinigen, und noch einmal drehen"}));
  if (begins.size() % static_cast<std::size_t>(turns) != 0) {
    return no_tach(
        said({"{} pulses came, which does not fit {} whole turns",
              "{} Impulse kamen, das passt nicht zu {} ganzen Umdrehungen"},
             begins.size(), turns),
        said({"begin with the mark half a turn away from the tach, turn exactly {} times, evenly",
              "mit der Marke eine halbe Umdrehung vor dem Drehzahlgeber beginnen, genau {}-mal gleichmäßig drehen"},
             turns));
  }
  found.marks_per_turn = static_cast<int>(begins.size()) / turns;
  return found;
}

FoundOrAgain<SlowRunFinding> find_edges(const Take& take, const HandTurnFinding& tach) {
  SlowRunFinding found;
  const auto& samples = take.channels.at(tach.channel);
  const Reach reach = reach_of(samples);
  const double rate_Hz = take.sample_rate_Hz;
  if (reach.range() < over_noise * std::max(reach.noise, 1e-9))
    return no_tach(
        said({"the tach shows no pulses", "der Drehzahlgeber zeigt keine Impulse"}),
        said({"see that it has its supply, and run again", "prüfen, ob er Strom hat, und noch einmal laufen lassen"}));
  const Edges edges = edges_of(samples, reach);
  const auto& leading = tach.pulses_fall ? edges.down_frame : edges.up_frame;
  const auto& trailing = tach.pulses_fall ? edges.up_frame : edges.down_frame;
  const auto marks = static_cast<std::size_t>(tach.marks_per_turn);
  if (leading.size() < marks * least_turns + 1 || trailing.size() < marks * least_turns)
    return no_tach(said({"fewer than {} turns are seen", "weniger als {} Umdrehungen sind zu sehen"}, least_turns),
                   said({"run longer, at an even speed", "länger laufen lassen, mit gleichmäßiger Drehzahl"}));
  const double turn_frames =
      (leading.back() - leading.front()) / static_cast<double>(leading.size() - 1) * static_cast<double>(marks);
  const std::vector<double> widths = gaps(leading, trailing);
  const double mark_frames = median_of(widths);
  if (marks > 1) {
    std::vector<Pulse> run;
    for (std::size_t i = 0; i < widths.size(); ++i) run.push_back({leading[i], widths[i]});
    const std::size_t tail = repeating_tail(run, tach.marks_per_turn);
    if (tail < learning_turns * marks + 1 || !learn_pattern(std::span(run).last(tail), tach.marks_per_turn)) {
      return no_tach(said({"{} marks pass per turn, and none can be told from the others",
                           "{} Marken je Umdrehung, und keine ist von den anderen zu unterscheiden"},
                          marks),
                     said({"leave one mark on and take the others off, or blacken them; then turn by hand again "
                           "(--only tach)",
                           "eine Marke lassen, die anderen abnehmen oder schwärzen; dann noch einmal von Hand drehen "
                           "(--only tach)"}));
    }
  }
  const auto [leading_frames, trailing_frames] = jitters_frames(leading, trailing, marks);
  found.leading_jitter_s = leading_frames / rate_Hz;
  found.trailing_jitter_s = trailing_frames / rate_Hz;
  found.trailing_edge =
      leading_frames > steady_enough_turns * turn_frames && leading_frames > twice_as_steady * trailing_frames;
  found.mark_turns = mark_frames / turn_frames;
  found.speed_rad_s = turn_rad * rate_Hz / turn_frames;
  const double top = tach.pulses_fall ? -reach.below : reach.above;
  found.high_pass_Hz = corner_of(samples, reach, leading, mark_frames, rate_Hz);
  if (!tach.high_passed && !found.high_pass_Hz) {
    found.level = reach.level + 0.5 * top;
    found.hysteresis = 0.4 * std::abs(top);
  }
  return found;
}

}  // namespace counterspot
