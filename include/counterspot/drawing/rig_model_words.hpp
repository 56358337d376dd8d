#pragma once

namespace counterspot {

/// Every text of what was learnt of a rig (`rig model`) in one language; part of `RigWords`. {} is where a number, a
/// name or another text goes, in the same order in every language.
struct RigModelWords {
  const char* head;       ///< rig, one of the next two
  const char* hard;       ///< `learnt from`, first day, last day
  const char* soft;       ///< the same
  const char* one_job;    ///< how many
  const char* jobs;       ///< how many
  const char* of_others;  ///< how many of them
  const char* and_qualification;
  const char* only_qualification;
  const char* qualification;  ///< as a teacher among jobs
  const char* not_known;
  const char* not_known_by;  ///< percent
  // Pedestals, what couples them, and what else moves.
  const char* pedestal;  ///< name
  const char* moving_mass;
  const char* natural_frequency;
  const char* Hz_bare;
  const char* damping;
  const char* of_critical;
  const char* dynamic_stiffness;
  const char* N_um_at;  ///< rpm
  const char* sensor_reads;
  const char* of_what_is_there;
  const char* sensor_at;
  const char* drift;
  const char* drift_unknown;
  const char* drift_of;  ///< percent, percent
  const char* coupling;
  const char* stiffness;
  const char* mass;
  const char* of_pedestals;
  const char* bed;
  const char* moves;
  const char* tilts;
  const char* Hz_by_itself;
  const char* swinging;  ///< one of the next two
  const char* on_both;
  const char* on_pedestal;  ///< name
  const char* swings;
  // What is foretold, and from what.
  const char* foretold;
  const char* span;  ///< m, kg, rpm
  const char* good;
  const char* fair;
  const char* unknown;
  const char* taught_by;
  const char* teacher;    ///< day, job, rpm
  const char* set_aside;  ///< after what it says
  const char* brought_in;
  const char* file;    ///< file, day written, program, day brought in
  const char* shafts;  ///< names with days
  // The speed for a shaft.
  const char* shaft;  ///< id
  const char* resonates_near;
  const char* on_this_rig;  ///< speeds
  const char* rpm;          ///< speed
  const char* one_not_known;
  const char* no_resonance;
  const char* balance_at;
  const char* balance_best;
  const char* best;  ///< rpm, percent
  const char* no_safe_speed;
  const char* none_away;  ///< rpm
  // What the owner should look at, a sentence each.
  const char* look_at;  ///< sentence
  const char* nothing_to_look_at;
  const char* job_aside;    ///< job, day, χ², of
  const char* sensor_step;  ///< job, day, sensor, percent, more or less, degrees, later or earlier, pedestal
  const char* more;
  const char* less;
  const char* later;
  const char* earlier;
  const char* softer;       ///< pedestal, percent
  const char* stiffer;      ///< the same
  const char* bed_near;     ///< speeds
  const char* and_;         ///< between speeds
  const char* swings_near;  ///< rpm, `on_both` or `on_pedestal`
};

const RigModelWords& english_rig_model_words();
const RigModelWords& german_rig_model_words();

}  // namespace counterspot
