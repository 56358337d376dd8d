#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "counterspot/tach/tach.hpp"
#include "tach/edge_finder.hpp"
#include "tach/pulse_pattern.hpp"

namespace counterspot {

/// From pulses to turns of the shaft, streaming. A pulse is held against where the local speed and the pattern of
/// pulses expect it:
///  - between two expected places: an extra edge, dropped (of two edges at one place the one nearer to it stays);
///  - one or more places missed: lost pulses; the gap is bridged, θ linear over the whole turns in it;
///  - a gap of more than 8 turns, or one that fits no whole number of pulses: the shaft is lost from sight, the clock
///  starts anew behind it.
/// A turn runs from one edge of the identified pulse to the next; the other pulses of a turn only serve to count, so
/// that it does not matter how evenly they stand. Turns come out at least one pulse late, because the next pulse may
/// show that an edge was the extra one.
class TurnClock {
 public:
  /// @param pulses_per_revolution what comes in a turn, or the teeth that a wheel would have if none were left out.
  explicit TurnClock(int pulses_per_revolution);

  void push(const Pulse& pulse, std::vector<Turn>& turns);
  void finish(std::vector<Turn>& turns);

  /// Gives up the present run of turns; the clock starts anew with the next pulses.
  void forget(std::vector<Turn>& turns);

  /// Samples before this frame are in no turn to come. Meaningless until a pulse is held (see holding()).
  double needed_from() const;
  bool holding() const { return held_ || !learning_.empty(); }

  std::int64_t pulses() const { return pulses_; }
  std::int64_t lost() const { return lost_; }
  double longest_lost_turns() const { return longest_lost_turns_; }  ///< of the pulses lost in a row
  std::int64_t doubled() const { return doubled_; }
  /// Pulses came and came, but never told which is which (only with more than one pulse a turn).
  bool unidentified() const { return unidentified_; }
  std::int64_t seen() const { return seen_; }  ///< all edges, whatever became of them
  /// Standard uncertainty of an edge in frames, from third differences of edge times (20σ² is the variance of t₃ − 3t₂
  /// + 3t₁ − t₀ for independent errors; speed that changes smoothly drops out). 0 if there are fewer than 4 turns in a
  /// row.
  double timing_uncertainty_frames() const;
  /// How many marks a turn the pulses speak of, if only one is stated: an extra strip of tape, or one with glare at
  /// both ends. Told from gaps that repeat every second or third pulse; marks that stand even within 4 deg are not told
  /// from one mark at a higher speed. Empty if there is nothing odd.
  std::optional<int> marks_beyond_one() const;
  /// The wheel that the pulses show, where it is not the one stated and the clock never started.
  std::optional<SeenWheel> other_wheel() const { return pulses_ == 0 ? other_wheel_ : std::nullopt; }

 private:
  /// A pulse given its place: which one of the turn, and which turn.
  struct Placed {
    double frame = 0.0;
    double expected_frame = 0.0;
    std::int64_t step = 0;       // pulses counted from the first identified one
    double from_frame = 0.0;     // the pulse accepted before it
    double advance_turns = 0.0;  // and how far before; 0 if there was none
  };
  std::optional<int> pulses_of_a_turn();
  void start_from(const LearnedRun& learned, std::size_t run_begin, std::vector<Turn>& turns);
  std::vector<Pulse> picked_before(std::size_t anchor);
  void place(const Pulse& pulse, std::vector<Turn>& turns);
  void start_anew(const Pulse& pulse, std::vector<Turn>& turns);
  void hold(double frame);
  bool is_extra(double suspect, double next) const;
  void accept(double frame, std::int64_t step, std::vector<Turn>& turns);
  void settle(std::vector<Turn>& turns);
  double turns_at(std::int64_t step) const;
  std::int64_t nearest_step(double turns_from_start) const;
  void remember_edge(double frame, bool follows);
  void remember_loss(std::int64_t step, std::int64_t lost);
  void look_for_more_marks();

  int stated_;    // teeth of a turn, with or without those that are left out
  int per_turn_;  // pulses of a turn
  std::vector<Pulse> learning_;
  PulsePattern pattern_;
  std::array<double, 3> recent_turns_{};  // estimates of the length of a turn, newest first
  std::optional<Placed> held_;            // the last accepted pulse; a later one may replace it
  std::optional<double> suspect_;         // an edge that came too early to be sure of
  std::optional<Placed> begun_;           // the identified pulse that began the present turn
  std::int64_t pulses_ = 0;
  std::int64_t lost_ = 0;
  double longest_lost_turns_ = 0.0;
  std::int64_t doubled_ = 0;
  std::int64_t seen_ = 0;
  bool unidentified_ = false;
  std::array<double, 4> edges_{};  // of the last turns in a row, newest first
  int edges_in_row_ = 0;
  double third_difference_squares_ = 0.0;
  std::int64_t third_differences_ = 0;
  std::array<double, 4> before_{};  // third differences before this one, newest first
  double alternation_ = 0.0;        // Σ of each times the one four turns before
  double turn_frames_sum_ = 0.0;
  std::optional<int> repeats_every_;  // so many pulses, before the clock could start
  std::optional<SeenWheel> other_wheel_;

  /// Pulses lost in a row, and how often as many were lost as far behind those before.
  struct Losses {
    std::int64_t step = 0;
    std::int64_t lost = 0;
    std::int64_t apart = 0;
    int alike = 0;
  } losses_;
};

}  // namespace counterspot
