#include "counterspot/job/stated.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/job/next_step.hpp"
#include "counterspot/solve/plan.hpp"
#include "counterspot/solve/solution.hpp"
#include "solve/moved_sensor.hpp"

namespace counterspot {

namespace {

constexpr double hardly_moved = 0.02;  // of a reading: no trial weight that serves changes so little
constexpr double least_ratio = 0.5;    // of the mass asked for
constexpr double most_ratio = 2.0;
constexpr double most_off_rad = radians(60.0);  // |1 − e^{jθ}| > 1 from there on: the correction adds to the unbalance

using Pieces = std::vector<FittedWeight>;

/// Spins between two statements of what is on the shaft.
struct Run {
  std::vector<std::size_t> spins;  ///< of the standing ones
  bool answered = false;           ///< what was stated next is what had been stated before
};

std::vector<Run> runs_of(const Job& job, const JobState& state) {
  std::vector<Run> runs(1);
  std::size_t next = 0;
  Pieces on;
  for (const Event& event : job.events) {
    if (state.taken_back.contains(event.number)) continue;
    if (std::holds_alternative<Spun>(event.what)) runs.back().spins.push_back(next++);
    const auto* fitted = std::get_if<Fitted>(&event.what);
    if (fitted == nullptr) continue;
    runs.back().answered = std::is_permutation(on.begin(), on.end(), fitted->pieces.begin(), fitted->pieces.end());
    runs.emplace_back();
    on = fitted->pieces;
  }
  return runs;
}

/// All spins that stand, as rows of the solution.
struct StandingRows {
  explicit StandingRows(const JobState& state)
      : spins(readings_of(state)), motions(motions_of(state)), largest(largest_of(spins)) {}
  std::vector<SpinReading> spins;
  std::vector<Motion> motions;
  std::vector<double> largest;
};

std::optional<MovedReading> moved_in(const Run& run, const JobState& state, const StandingRows& rows) {
  MovedReading moved;
  for (const std::size_t k : run.spins) {
    const std::size_t first = *std::find_if(run.spins.begin(), run.spins.end(), [&](std::size_t each) {
      return comparable(rows.spins[each], rows.spins[k]);  // the spin itself, if no other
    });
    if (run.answered || first == k) continue;
    const auto change = moved_sensor(rows.spins[first], rows.spins[k], rows.motions, rows.largest);
    if (!change) continue;
    if (moved.spins.empty()) moved.first = state.spins[first].number;
    moved.spins.push_back(state.spins[k].number);
    if (change->share <= moved.share) continue;
    moved.share = change->share;
    moved.sensor = state.spins[first].spun.readings[change->sensor].sensor;
  }
  if (moved.spins.empty()) return std::nullopt;
  return moved;
}

const std::string& label_of(const Job& job, int number) {
  return std::get<Spun>(job.events[static_cast<std::size_t>(number - 1)].what).label;
}

bool hardly_changed(const SpinReading& was, const SpinReading& after, const std::vector<Motion>& motions) {
  const SpinReading now = at_speed_of(was, after, motions);
  for (std::size_t s = 0; s < was.vectors.size(); ++s) {
    const double chance = deviations_of_a_change * std::sqrt(variance_of(was, now, s));
    if (std::abs(now.vectors[s] - was.vectors[s]) > std::max(chance, hardly_moved * std::abs(was.vectors[s])))
      return false;
  }
  return true;
}

Pieces at_plane(const Pieces& pieces, int plane) {
  Pieces there;
  std::copy_if(pieces.begin(), pieces.end(), std::back_inserter(there),
               [&](const FittedWeight& piece) { return piece.plane == plane; });
  return there;
}

Phasor sum_of(const Pieces& pieces) {
  Phasor sum;
  for (const FittedWeight& piece : pieces) sum += piece.unbalance_kg_m();
  return sum;
}

/// "17.6 g at 9:02 (138.4 deg)", all pieces of a plane as the one that does the same.
std::string weight_words(const Phasor& unbalance_kg_m, double radius_m, const Rig& rig) {
  const double angle = wrap_positive(std::arg(unbalance_kg_m));
  return fmt::format("{:.1f} g at {} ({:.1f} deg)", std::abs(unbalance_kg_m) / radius_m * 1e3,
                     clock_position(angle, rig.rotation).text(), degrees(angle));
}

/// What is asked for and what is stated at one plane, and whether the first is a correction.
struct Pair {
  Pieces asked;
  Pieces stated;
  bool correction = false;
  bool mass_known = true;
};

bool takes_metal_away(const Pieces& pieces) {
  return std::any_of(pieces.begin(), pieces.end(), [](const FittedWeight& piece) { return piece.mass_kg < 0.0; });
}

/// What is wrong at one plane; empty if it is alike.
std::string unlike_at(const Plane& plane, const Pair& pair, std::optional<double> limit_kg_m, const Rig& rig) {
  const Phasor asked = sum_of(pair.asked);
  const Phasor stated = sum_of(pair.stated);
  if (pair.stated.empty() && pair.asked.empty()) return "";
  if (limit_kg_m && std::abs(stated - asked) < alike_on_the_shaft * *limit_kg_m) return "";
  const std::string wanted = pair.mass_known ? weight_words(asked, plane.radius_m, rig) : "a weight";
  const std::string said = weight_words(stated, plane.radius_m, rig);
  if (pair.stated.empty()) return fmt::format("plane {}: {} was asked for and nothing is stated", plane.name, wanted);
  if (pair.asked.empty()) return fmt::format("plane {}: nothing was asked for and {} is stated", plane.name, said);
  if (takes_metal_away(pair.stated) && !takes_metal_away(pair.asked))
    return fmt::format("plane {}: {} was asked for, and metal taken away is stated", plane.name, wanted);
  if (!pair.mass_known) return "";
  const double ratio = std::abs(stated) / std::abs(asked);
  const bool turned = pair.correction && std::abs(std::arg(stated / asked)) > most_off_rad;
  if (ratio >= least_ratio && ratio <= most_ratio && !turned) return "";
  return fmt::format("plane {}: {} was asked for and {} is stated", plane.name, wanted, said);
}

/// The pieces with the given numbers, from 1.
Pieces numbered(const Pieces& pieces, const std::vector<int>& numbers) {
  Pieces chosen;
  for (int number : numbers) chosen.push_back(pieces.at(static_cast<std::size_t>(number - 1)));
  return chosen;
}

struct Change {
  Pieces asked;
  Pieces stated;
};

/// Which of the two choices of a step is meant, by what came off.
Change change_meant(const NextStep& asked, const Pieces& before, const Pieces& after) {
  const Pieces off = pieces_without(before, after);
  const Pieces fresh = pieces_without(after, before);
  if (asked.instead) {
    const Pieces trials = numbered(before, asked.instead->take_off);
    if (pieces_without(trials, off).empty()) return {asked.instead->pieces, fresh};
  }
  return {asked.pieces, fresh};
}

std::string hint_at_bare(const NextStep& asked, const Change& meant, const Rig& rig, const Shaft& shaft) {
  if (!asked.instead || meant.asked == asked.instead->pieces) return "";
  for (std::size_t p = 0; p < shaft.planes.size(); ++p) {
    const int plane = static_cast<int>(p);
    const Pair pair{at_plane(asked.instead->pieces, plane), at_plane(meant.stated, plane), true, true};
    if (!unlike_at(shaft.planes[p], pair, {}, rig).empty()) return "";
  }
  return ": these are the weights for the shaft with its trial weights off, which are still stated to be on";
}

std::string too_heavy(const Pieces& fresh, const Shaft& shaft) {
  if (!shaft.mass_kg) return "";
  for (const FittedWeight& piece : fresh) {
    if (std::abs(piece.mass_kg) <= heaviest_share_of_shaft * *shaft.mass_kg) continue;
    return fmt::format("plane {}: {:.1f} g is stated, on a shaft of {:.1f} kg",
                       shaft.planes[static_cast<std::size_t>(piece.plane)].name, piece.mass_kg * 1e3, *shaft.mass_kg);
  }
  return "";
}

std::vector<std::string> unlike_planes(const Change& meant, bool correction, const Rig& rig, const Shaft& shaft) {
  const bool mass_known =
      std::all_of(meant.asked.begin(), meant.asked.end(), [](const auto& piece) { return piece.mass_kg != 0.0; });
  std::vector<std::string> all;
  for (std::size_t p = 0; p < shaft.planes.size(); ++p) {
    const int plane = static_cast<int>(p);
    const Pair pair{at_plane(meant.asked, plane), at_plane(meant.stated, plane), correction, mass_known};
    const auto limit = correction ? limit_of(limits_of(shaft), shaft.planes[p].name) : std::nullopt;
    if (auto words = unlike_at(shaft.planes[p], pair, limit, rig); !words.empty()) all.push_back(std::move(words));
  }
  return all;
}

}  // namespace

std::vector<MovedReading> moved_readings(const Job& job) {
  const JobState state = state_of(job.events);
  std::vector<MovedReading> all;
  if (state.spins.empty()) return all;
  const StandingRows rows(state);
  for (const Run& run : runs_of(job, state))
    if (auto moved = moved_in(run, state, rows)) all.push_back(std::move(*moved));
  return all;
}

Warning warning_of(const MovedReading& moved, const Job& job) {
  return {WarningCode::reading_moved,
          moved.sensor,
          fmt::format("sensor {} reads {:.0f} % otherwise than in spin '{}', and no change of weights was stated",
                      moved.sensor, 100.0 * moved.share, label_of(job, moved.first)),
          {label_of(job, moved.spins.front())},
          {moved.sensor},
          fmt::format("say what was on the shaft, or take entry {} back and spin again", moved.spins.front())};
}

std::optional<Warning> nothing_moved(const Job& job) {
  const JobState state = state_of(job.events);
  if (state.spins.size() < 2 || !state.last_stated) return std::nullopt;
  const StandingSpin& last = state.spins.back();
  const StandingSpin& before = state.spins[state.spins.size() - 2];
  const Pieces fresh = pieces_without(last.fitted, before.fitted);
  const std::vector<SpinReading> rows = readings_of(state);
  const std::vector<SpinReading> earlier(rows.begin(), rows.end() - 1);
  if (fresh.empty() || weights_suffice(earlier, job.shaft().planes.size())) return std::nullopt;
  const SpinReading& was = earlier.back();
  if (!comparable(was, rows.back()) || !hardly_changed(was, rows.back(), motions_of(state))) return std::nullopt;
  return Warning{
      WarningCode::weak_trial,
      std::nullopt,
      fmt::format("reads as spin '{}', though a trial weight was stated in between: is it on?", before.spun.label),
      {last.spun.label},
      {},
      fmt::format("if it was not on, take entry {} back; if it was, fit a heavier one", *state.last_stated)};
}

bool gives_correction(const Finding& finding) {
  if (!finding.used_prior) return true;
  for (const PlaneFinding& plane : finding.planes) {
    for (const Held& held : finding.held)
      if (held.place == HeldPlace{plane.plane} && plane.predicted_residual_kg_m > held.limit_kg_m) return false;
  }
  return true;
}

std::vector<FittedWeight> trial_weights_of(const Job& job) {
  const JobState state = state_of(job.events);
  const std::vector<SpinReading> rows = readings_of(state);
  const std::size_t planes = job.shaft().planes.size();
  Pieces trials;
  Pieces on;
  Pieces at_last_spin;
  std::vector<SpinReading> so_far;
  bool told = false;  // by the weights alone: more spins never tell less
  bool answered = false;
  for (const Event& event : job.events) {
    if (state.taken_back.contains(event.number)) continue;
    if (const auto* spun = std::get_if<Spun>(&event.what)) {
      so_far.push_back(rows[so_far.size()]);
      const bool found = spun->finding && gives_correction(*spun->finding);
      told = told || (!found && weights_suffice(so_far, planes));
      answered = found || told;
      at_last_spin = trials;
    } else if (const auto* fitted = std::get_if<Fitted>(&event.what)) {
      trials = pieces_without(trials, pieces_without(on, fitted->pieces));
      const Pieces fresh = pieces_without(fitted->pieces, on);
      if (!answered) trials.insert(trials.end(), fresh.begin(), fresh.end());
      on = fitted->pieces;
    }
  }
  return at_last_spin;
}

std::optional<Warning> unlike_asked(const NextStep& asked, const Pieces& before, const Pieces& after, const Rig& rig,
                                    const Shaft& shaft) {
  const auto unlike = [](const std::string& words) { return Warning{WarningCode::unlike_asked, std::nullopt, words}; };
  const bool correction = asked.kind == StepKind::fit_correction;
  const Change meant = change_meant(asked, before, after);
  if (auto heavy = too_heavy(meant.stated, shaft); !heavy.empty()) return unlike(heavy);
  if (!correction && asked.kind != StepKind::fit_trial) return std::nullopt;
  if (meant.stated.empty() && before.size() == after.size())
    return unlike("a weight was asked for, and nothing is stated to be fitted");
  if (meant.asked.empty() || (!correction && meant.stated.empty()))
    return std::nullopt;  // earlier ones came off, first
  const std::vector<std::string> words = unlike_planes(meant, correction, rig, shaft);
  if (words.empty()) return std::nullopt;
  return unlike(fmt::format("{}{}", fmt::join(words, ", "), hint_at_bare(asked, meant, rig, shaft)));
}

}  // namespace counterspot
