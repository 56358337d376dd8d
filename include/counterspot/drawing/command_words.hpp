#pragma once

#include "counterspot/drawing/log_words.hpp"
#include "counterspot/placement/shop_words.hpp"

namespace counterspot {

/// Where things stand in a shop; part of `CommandWords`. {} as there.
struct ShopWords {
  const char* no_rig;
  const char* rig_here;
  const char* no_shafts;
  const char* no_shaft;  ///< the folder
  const char* no_job;    ///< rig, folder of shafts
  const char* no_stock;
  const char* jobs;  ///< how many, the newest's name
  const char* commands;
};

/// Every text of what the commands answer, but for jobs and rigs (`InstructionWords`, `RigWords`), in one language;
/// part of `Words`. {} is where a number, a name or another text goes, in the same order in every language. What is
/// typed, in a command or a file, stays as it is typed.
struct CommandWords {
  // What several say.
  const char* next;
  const char* verdict;
  const char* holds_for;           ///< what ± means
  const char* mark_on_clock;       ///< end
  const char* first_mend;          ///< what to do about what is in doubt
  const char* nothing_to_fit;      ///< the shaft is within limit
  const char* spin_longer_or_fit;  ///< one of the next two
  const char* fit_and_spin;        ///< the same
  const char* what_is_shown;
  const char* one_of_two;
  const char* at_speed;  ///< after a name
  const char* piece_on;  ///< grams, degrees, plane
  // solve
  const char* shaft_head;   ///< shaft, rig, speed, spins
  const char* fit_weight;   ///< grams, clock, `mark_on_clock`, radius in mm
  const char* by_tape;      ///< mm, direction
  const char* shaft_angle;  ///< degrees
  const char* now;          ///< before an unbalance
  const char* with_limit;   ///< unbalance, limit
  const char* expected;     ///< g·mm
  const char* at_support;   ///< support, `with_limit`
  const char* as_found;
  const char* on_what_stays;     ///< what stays on
  const char* to_be_fitted;      ///< one of the two
  const char* trials_off_first;  ///< the trial weights, and one of the two
  const char* trials_left_on;
  const char* weight_left_on;  ///< plane, grams, clock, `shaft_angle`, `expected`
  const char* adapters;
  const char* adapter_plane;  ///< plane, unbalance, degrees
  const char* repeats;        ///< sensor, spins, scatter, unit, noise, one of the next two
  const char* added_to_each;  ///< u
  const char* nothing_to_add;
  const char* no_budget;
  const char* budget;
  const char* combined;
  const char* budget_rule;
  // solve --no-phase
  const char* without_phase;  ///< shaft, rig, spins
  const char* spin_speed;     ///< label, `at_speed`, how it is known
  const char* by_speed_signal;
  const char* by_spectrum;
  const char* all_off_or_on;  ///< what the last spin carried
  const char* answers;        ///< how many
  const char* weight_at;      ///< grams, clock, end, degrees
  const char* plane_now;      ///< plane, g·mm, `weight_at`
  const char* or_on_top;      ///< `weight_at`
  const char* one_more_trial;
  const char* this_one;
  // inspect
  const char* recording_head;  ///< name, format, Hz, s, samples
  const char* channel;
  const char* least;
  const char* most;
  const char* mean;
  const char* unit;
  const char* full_scale;
  const char* no_unit;
  const char* not_finite;  ///< how many
  const char* what;
  const char* taken_for;
  const char* under_recording;
  const char* write_in_rig_file;
  const char* under;
  const char* or_;  ///< between sections
  const char* tach;
  const char* sensor;
  const char* good;
  const char* pulses;        ///< pulses, lost, doubled, `turns_of`
  const char* turns_of;      ///< rpm, drift, turns
  const char* about_mean;    ///< value, unit
  const char* check_health;  ///< file
  const char* not_usable;    ///< remedy
  const char* not_reliable;  ///< what to do
  const char* measure_it;    ///< file, rig file
  // track
  const char* track_head;  ///< file, `turns_of`, s
  const char* order_line;  ///< sensor, order, amplitude, unit, kind, lag
  const char* peak;
  const char* rms;
  const char* peak_to_peak;
  const char* slope;  ///< percent, degrees, one of the next two
  const char* slope_measured;
  const char* slope_modelled;
  const char* add_recording;
  const char* add_recordings;
  // limit
  const char* permissible;
  const char* whole_shaft;
  const char* off_axis;  ///< um, grade
  const char* plane_named;
  const char* hold_against;
  // shaft
  const char* shaft_title;
  const char* tube_mass;      ///< kg
  const char* modelled_mass;  ///< kg
  const char* speeds;
  const char* critical_speed;
  const char* stay_under;
  const char* three_quarters;
  const char* service;
  const char* balancing;
  const char* speed_line;   ///< name, rpm, `of_critical` or nothing
  const char* of_critical;  ///< percent, one of the next three
  const char* allowed;
  const char* near_it;
  const char* above_it;
  const char* straightness;
  const char* station;        ///< place, indicator total, bow, degrees
  const char* worst_station;  ///< total, limit, one of the next two
  const char* straight_enough;
  const char* straighten;
  const char* press_at;   ///< place, degrees, length
  const char* bow_makes;  ///< g·mm, plane, `bow_limit`
  const char* bow_limit;  ///< g·mm
  const char* joints;
  const char* yokes;  ///< one of the next two, degrees, percent
  const char* in_line;
  const char* not_in_line;
  const char* alike_angles;  ///< degrees
  const char* uneven;        ///< percent
  const char* trials;
  const char* trial;           ///< plane, mass, radius, pull, rpm, rule
  const char* trial_of_stock;  ///< kind, degrees
  const char* heavy_trial;     ///< percent, mass, rpm
  const char* spin_it;         ///< shaft file
  const char* straighten_first;
  const char* other_speed;
  // place
  const char* place_head;  ///< shaft, stock, `mark_on_clock`
  const char* now_worst;   ///< verdict, `of_a_limit`
  const char* of_a_limit;  ///< percent
  const char* with_what_is_on;
  const char* slide_one;
  const char* slide_two;
  const char* swap_one;
  const char* add_one;
  const char* effort;    ///< one of the four, `of_a_limit`
  const char* slide;     ///< plane, mass, clock, place
  const char* take_off;  ///< plane, mass, clock
  const char* at_spot;   ///< place
  const char* pulls;     ///< force
  const char* fit_on_top;
  const char* no_piece;
  const char* held;        ///< place, now, expected, limit
  const char* proven;      ///< `of_a_limit`
  const char* not_proven;  ///< `of_a_limit`, percent
  const char* one_piece;
  const char* pieces;
  const char* or_with;       ///< pieces, number
  const char* closed_plane;  ///< planes
  const char* keeps;         ///< place, g·mm, percent, g·mm, percent
  const char* costs_nothing;
  const char* if_open;  ///< percent, percent, pieces
  const char* gather;
  const char* left_out;  ///< kind
  const char* fit_weigh_and_tape;
  // log
  const char* no_such_jobs;
  const char* job_spins;         ///< how many, right-aligned
  const char* percent_of_limit;  ///< percent
  const char* no_final_spin;
  WorkWords work;  ///< how a piece is made and fitted
  LogWords log;
  ShopWords shop;
};

const CommandWords& english_commands();
const CommandWords& german_commands();

}  // namespace counterspot
