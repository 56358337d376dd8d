#pragma once

#include <array>
#include <string_view>

#include "counterspot/job/next_step.hpp"
#include "counterspot/shaft/trial.hpp"
#include "counterspot/solve/plan.hpp"

namespace counterspot {

/// Every text of what a job asks for, in one language; part of `Words`. {} is where a number, a name or another text
/// goes, in the same order in every language. What is typed at a command stays as it is typed.
struct InstructionWords {
  // Pieces and where they go.
  const char* speed;           ///< "{} rpm"
  const char* short_piece;     ///< "{} g at {} in plane {}"
  const char* place;           ///< plane, grams, clock, end, radius in mm
  const char* by_tape;         ///< after `place`: mm, direction
  const char* pull;            ///< after `place`: N
  const char* shaft_angle;     ///< degrees
  const char* at_mark;         ///< `shaft_angle`
  const char* tape_from_mark;  ///< length, direction, `shaft_angle`
  const char* nothing;
  // Spins.
  const char* spin_as_found;
  const char* spin_on;
  const char* at_speed;  ///< after the two: the speed
  const char* record_as_found;
  const char* bends;
  const char* none_on;
  const char* one_on;
  const char* several_on;
  const char* record_as_before;  ///< what is on
  const char* spin_longer;
  const char* nothing_to_fit;
  const char* spins_contradict;
  // Trial weights.
  const char* fit_trial;      ///< plane, grams, clock
  const char* and_fit_trial;  ///< after it, for one more plane
  const char* rule_and_place;
  std::string_view (*of_rule)(TrialRule rule);
  std::string_view (*of_place)(TrialPlace place);
  const char* of_stock;
  const char* take_off_first;
  const char* may_carry;  ///< grams
  const char* find_trial;
  const char* fit_any_trial;
  const char* how_heavy;
  const char* no_more_than;  ///< grams
  const char* then_say;
  const char* chance_falls;
  const char* chance_within;           ///< after it
  const char* spins_trial_first;       ///< a trial is asked for: spins this way, spins with a correction first
  const char* spins_correction_first;  ///< the other way round
  // Corrections.
  const char* fit;
  const char* off_and_fit;
  const char* take_off;
  const char* numbered_piece;  ///< number, piece
  const char* no_more;
  const char* or_leave_on;
  const char* on_top;
  const char* expected;             ///< percent of the limit
  const char* expected_by_earlier;  ///< the same, from what earlier shafts taught
  const char* if_so;                ///< expected; the command
  // What is on?
  const char* was_it_on;
  const char* what_is_on;
  const char* on_as_asked;
  const char* on_other;
  const char* on_none;
  // The end.
  const char* close;
  const char* final_residual;
  const char* close_outside;
  const char* close_unsure;
  const char* written_as;
  const char* still_in_doubt;
  const char* too_unsure;
  const char* what_is_unsure;
  const char* too_many;
  const char* what_changes;
  const char* no_room;
  const char* more_room;
  const char* no_answer;
  const char* in_doubt_first;
  const char* doubted_spin;  ///< "spin '{}': {}"
  const char* to_mend;
  const char* spin_over_again;  ///< entries
  const char* closed_already;
  std::string_view (*title_of)(StepKind kind);  ///< the instruction in as few words as can be read from the rig
  // Around the instruction.
  const char* job;  ///< "JOB {}"
  const char* now;
  const char* takes_back;
  const char* held_back;  ///< of what spins, what, the remedy
  const char* of_spin;
  const char* of_spins;
  const char* held;  ///< place, residual, limit, verdict
  const char* doubted;
  const char* taught_by_shafts;
  const char* taught_by_rig;  ///< number, `from_elsewhere`
  const char* from_elsewhere;
  // What happened.
  const char* job_stands;  ///< job, rig, when, open or closed
  const char* open;
  const char* closed;
  const char* gone;  ///< before what was taken back
  const char* speed_read;
  const char* sensor_read;  ///< sensor, `reading`
  const char* reading;      ///< amplitude, its unit, degrees
  const char* warning;
  const char* note;
  const char* of_all_spins;
  const char* of_many_spins;  ///< how many
  const char* and_between;    ///< between the last two of several numbers, with its blanks
  const char* to_between;     ///< between the least and the largest of many
  const char* nothing_more_on;
  const char* piece;  ///< plane, mass, degrees, radius
  const char* spin;   ///< label
  const char* on_from_here;
  const char* taken_back;
  const char* signed_now;  ///< the heading of such an entry
  const char* signed_by;   ///< by whom, and the code of the key
  const char* order_said;  ///< the heading of an entry that speaks of the order
  const char* order_of;    ///< over the order as it stands: the job
  const char* no_order;
  const char* entry;           ///< number, reason
  const char* closed_on_spin;  ///< of entry
  const char* closed_without_spin;
  const char* job_is_closed;
  const char* without_residual;
  const char* closed_within;  ///< the next step after a job: job
  const char* closed_otherwise;
  const char* stated;          ///< entry, after weights were stated
  const char* now_on;          ///< before the pieces that are on
  const char* asked_for;       ///< before the pieces that were asked for, on top of what was on
  const char* asked_bare;      ///< the same where trial weights come off first
  const char* or_on_top;       ///< the other way, with trial weights left on
  const char* was_taken_back;  ///< number of the entry, what it was
  const char* caution;
  std::array<const char*, 3> caution_lines;
};

const InstructionWords& english_instructions();
const InstructionWords& german_instructions();

}  // namespace counterspot
