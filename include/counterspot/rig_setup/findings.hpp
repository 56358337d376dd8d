#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "counterspot/model/rig.hpp"
#include "counterspot/recording/recording.hpp"
#include "counterspot/units/said.hpp"

namespace counterspot {

/// What recordings of simple acts, a knock or a turn by hand, tell of a rig that has no file yet. Each finding is sure
/// by a margin that its function states, or it is no finding: the act is asked for again, and what to do differently is
/// said. The margins are common practice, no source.

/// What all channels showed during one act, as the samples are: fractions of full scale, or as written.
struct Take {
  double sample_rate_Hz = 0.0;
  bool full_scale = false;                    ///< samples are fractions of full scale, and end at 1
  std::vector<std::vector<double>> channels;  ///< [channel][sample]
};
/// @throws what Recording::read throws; Error(recording, "too_short") for less than a second.
Take read_take(Recording& recording);

/// Why an act told nothing that is sure, and what to do differently.
struct Again {
  Said why;
  Said instead;
  std::string code = {};  ///< of the Error that says both, if it was one
};
template <typename Finding>
using FoundOrAgain = std::variant<Finding, Again>;

/// A value from several knocks, and half the width of what they spread over.
struct Spread {
  double value = 0.0;
  double plus_minus = 0.0;
};

/// Three knocks against a pedestal, on the side away from its sensor.
struct KnockFinding {
  std::size_t channel = 0;   ///< 0-based
  bool inverted = false;     ///< a push towards the sensor makes its signal fall
  double over_others = 0.0;  ///< its knocks over those of the next channel, at least `knock_over_others`
  double over_noise = 0.0;   ///< the knocks' first swing over the noise, at least `knock_over_noise`
  std::optional<Spread> natural_frequency_Hz;  ///< if the knocks agree on it within 3 %
  std::optional<Spread> damping;               ///< fraction of critical, likewise within 30 %
  std::optional<Spread> high_pass_Hz;  ///< corner of the input, if its decay stands clear of the ringing in every knock
};
inline constexpr int knocks_asked = 3;
inline constexpr double knock_over_others = 3.0;
inline constexpr double knock_over_noise = 8.0;

/// Sure: so many knocks as asked and no other blow among them; the channel's over every other's by the margins above;
/// the first swing of all has one sign; no channel shows any of them before that one does; none reaches full scale.
FoundOrAgain<KnockFinding> find_knocks(const Take& take);

/// One damped swing, and beside it what a first-order high-pass makes of the blow, a decay without swinging.
struct RingDown {
  double frequency_Hz = 0.0;  ///< undamped
  double damping = 0.0;
  std::optional<double> high_pass_Hz;  ///< if leaving it out makes the misfit larger by more than noise could
};
/// Least squares over the samples from shortly after a blow; the poles by search, amplitudes linear (variable
/// projection, Golub & Pereyra 1973). A first-order high-pass moves neither pole of the pedestal and adds one of its
/// own. Empty if the swing does not explain 90 % of what the samples hold.
std::optional<RingDown> fit_ring_down(const std::vector<double>& samples, double sample_rate_Hz);

/// The shaft turned by hand a stated number of turns.
struct HandTurnFinding {
  std::size_t channel = 0;   ///< 0-based
  bool pulses_fall = false;  ///< the mark makes the signal fall
  int marks_per_turn = 1;
  bool high_passed = false;  ///< the level under the mark is not held
};
/// @param sensors the channels that are taken.
/// Sure: one channel alone shows pulses, of one height within 30 %, over its noise 20 times, each shorter than a
/// quarter of what lies between two; so many that every turn has the same number.
FoundOrAgain<HandTurnFinding> find_tach(const Take& take, int turns, const std::vector<std::size_t>& sensors);

/// The shaft driven slowly and evenly.
struct SlowRunFinding {
  bool trailing_edge = false;     ///< the mark comes rough, by 0.2 deg and more, and goes at least twice as steadily
  double leading_jitter_s = 0.0;  ///< of one edge, standard deviation
  double trailing_jitter_s = 0.0;
  double mark_turns = 0.0;  ///< width of the mark, in turns
  double speed_rad_s = 0.0;
  std::optional<double> level;         ///< between the two states of a signal that holds them, as the samples are
  std::optional<double> hysteresis;    ///< full width, likewise
  std::optional<double> high_pass_Hz;  ///< from how the level under the mark falls
};
/// Sure: 20 turns and more; of several marks a turn, one is told from the others by its width or place.
FoundOrAgain<SlowRunFinding> find_edges(const Take& take, const HandTurnFinding& tach);

/// What a sensor shows while nothing turns.
struct RestFinding {
  double noise_rms = 0.0;        ///< as the samples are
  double noise_per_rtHz = 0.0;   ///< around 15 to 60 Hz, one-sided amplitude density beside lines
  std::optional<double> hum_Hz;  ///< 50 or 60, if it stands over the noise
  double hum_amplitude = 0.0;
  std::optional<double> line_Hz;  ///< the strongest other line, of 2 to 400 Hz, as of a machine nearby
  double line_amplitude = 0.0;
  double drift = 0.0;  ///< of the level from beginning to end
};
RestFinding find_rest(const std::vector<double>& samples, double sample_rate_Hz);

/// One sensor on a hand-held shaker that moves at 10 m/s² r.m.s. and 159.2 Hz, 1000 rad/s: the usual reference of such
/// calibrators (common practice; ISO 16063-21, from memory, compares sensors at 160 Hz).
struct ShakerFinding {
  Spread volts_rms;  ///< of the samples at that frequency; as the samples are
  double frequency_Hz = 0.0;
};
inline constexpr double shaker_m_s2_rms = 10.0;
inline constexpr double shaker_rad_s = 1000.0;
/// What such a shaker's own level may be out by, 95 % (common practice, no source).
inline constexpr double shaker_part = 0.03;
/// Sure: two seconds and more of one tone whose size stays within 3 %, and beside it no more than 30 % of its size; its
/// frequency within 2 %; no sample at full scale; no other channel shows as much of it.
FoundOrAgain<ShakerFinding> find_shaker(const Take& take, std::size_t channel);

/// Spins with a known weight: bare, it at the mark in plane A, at the mark in plane B, and at A where the clock says.
struct ProofSpins {
  std::array<Recording*, 4> recordings{};  ///< in that order
  double mass_kg = 0.0, radius_m = 0.0;
  double clock_rad = 0.0;  ///< from the mark, clockwise as seen from `seen_from`
  std::string seen_from = "A";
};
enum class ProofResult { held, failed, unsure };
/// Whether the rig as understood finds a weight where it is. What speaks against it is named:
///  - the weight found on the other side: the rotation or the viewing end is wrong;
///  - each plane's weight read mostly by the other's sensor: the sensors are exchanged. |α_AA α_BB|/|α_AB α_BA| does
///    not depend on sensitivities or masses, and is over 1 away from resonances;
///  - the two sensors answering their own planes' weights in opposite phase: one of them is turned over.
struct Proof {
  ProofResult result = ProofResult::unsure;
  std::vector<Said> against;  ///< sentences; empty if it held
  double found_mass_kg = 0.0;
  double found_clock_rad = 0.0;  ///< clockwise as seen from `seen_from`
  double off = 0.0;              ///< distance from where it was put, as a part of it; at most `proof_most_off`
  double own_over_cross = 0.0;   ///< the ratio above, at least `proof_own_over_cross`
  double opposite_rad = 0.0;     ///< phase between the sensors' answers, at most 60 deg either way
  double speed_rad_s = 0.0;
  std::array<double, 2> smallest_residual_kg_m{};  ///< expanded, of the spins' own noise alone
};
inline constexpr double proof_most_off = 0.3;
inline constexpr double proof_own_over_cross = 1.5;
/// @throws Error as track() does, of a spin that cannot be measured.
Proof prove(const Rig& rig, const ProofSpins& spins);

}  // namespace counterspot
