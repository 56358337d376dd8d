#pragma once

#include <string_view>

#include "counterspot/drawing/rig_model_words.hpp"
#include "counterspot/rig/rig_work.hpp"

namespace counterspot {

/// Why a place of a qualification is not judged.
enum class Unjudged { first_time, no_repeat, pedestal };

/// Every text of work on a rig in one language; part of `Words`. {} is where a number, a name or another text goes, in
/// the same order in every language. What is typed at a command stays as it is typed.
struct RigWords {
  // Names.
  std::string_view (*of_task)(RigTask task);
  std::string_view (*of_place)(RigPlace place);
  std::string_view (*of_verdict)(RigVerdict verdict);
  const char* failed_loud;  ///< a failure is to be seen from a step away
  // The instruction.
  const char* fit;               ///< before the masses
  const char* mass_to_fit;       ///< grams, plane, degrees
  const char* and_spin;          ///< after the masses
  const char* spin_bare;         ///< where there are none
  const char* at_part_of_speed;  ///< after these: percent
  const char* turned;            ///< after these: degrees
  const char* mass;              ///< plane, grams, clock, end, degrees, radius in mm
  const char* at_first_speed;
  const char* at_speed;  ///< rpm
  const char* mark_to_mark;
  const char* left_alone;
  const char* mount_turned;  ///< degrees
  const char* spin_next;
  // The end.
  const char* no_result;
  const char* qualified;
  const char* not_qualified;
  const char* within;
  const char* outside;
  const char* sensitivities_found;
  const char* no_sensitivities;
  const char* ended;  ///< task, reason
  // What was found. Null, or a null from a function: as it was said when it was found (in English).
  const char* (*of_finding)(RigTask task, RigPlace place);  ///< what was measured, what is allowed
  const char* (*of_remedy)(RigPlace place);                 ///< after it, if it failed
  const char* (*of_unjudged)(Unjudged why);
  const char* sensor_reads;  ///< of a recalibration: sensor, times what it should, degrees
  const char* no_sensitivity_explains;
  // What follows.
  const char* qualified_numbers;  ///< Umar, plane, Umar, plane, percent, g·mm
  const char* report_next;
  const char* mend;  ///< place, what to do after it
  const char* qualify_again;
  const char* check_again;
  const char* go_on;
  const char* begin_again;
  const char* sensitivity_change;  ///< sensor, times what its file says
  const char* write_next;
  // A work and a rig as they stand.
  const char* head;    ///< rig, task, reference shaft
  const char* number;  ///< of how many
  const char* begun;   ///< when
  const char* spin_of_step;
  const char* judged;
  const char* ended_by;  ///< reason
  const char* rig;
  const char* never_qualified;
  const char* qualified_on;  ///< day, day it is due
  const char* overdue;
  const char* last_failed;
  const char* last_check;  ///< when, how it came out
  const char* check_within;
  const char* check_outside;
  const char* last_knocks;     ///< when, how it came out
  const char* knocks_within;   ///< after it
  const char* knocks_against;  ///< after it: what was wrong
  // The report of a qualification.
  const char* report_written;  ///< rig
  // What was learnt of it.
  const RigModelWords& (*of_model)();
};

const RigWords& english_rig_words();
const RigWords& german_rig_words();

}  // namespace counterspot
