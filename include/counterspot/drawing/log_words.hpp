#pragma once

namespace counterspot {

/// What is said of the quality log as a whole, and of many recordings at once, in one language; part of
/// `CommandWords`. {} as there.
struct LogWords {
  // trend
  const char* trend_head;  ///< two lines over the columns: by what they are sorted
  const char* week;        ///< sorted by
  const char* rig;
  const char* family;
  const char* control_chart;  ///< percent: centre, from, to
  const char* beyond;         ///< job, percent
  // quality
  const char* scatter;  ///< sensor, size, unit, degrees of freedom
  const char* none_repeated;
  const char* gauge_study;      ///< plane, three sizes in g·mm, mountings, spins
  const char* coefficients_of;  ///< sensor, rig, family
  const char* band;             ///< percent, jobs of the band, jobs in all
  const char* hold;             ///< `band`, what was beyond it once
  const char* beyond_once;      ///< job
  const char* left_band;        ///< job, `band`, percent, degrees
  // what comes in, goes out and is checked
  const char* imported;          ///< jobs, new entries
  const char* records_imported;  ///< records of rigs, new ones
  const char* backed_up;         ///< file
  const char* fault;             ///< what
  const char* checked;           ///< jobs, entries, one of the next two
  const char* sound;
  const char* faults;        ///< how many
  const char* sealed_since;  ///< when, older ones
  const char* recordings;    ///< compared, no longer there
  const char* sealing;       ///< percent, entries
  // verify and sign
  const char* whole_file;
  const char* of_job;        ///< before a fault: job
  const char* as_kept;       ///< job, entries, seal
  const char* signed_by;     ///< name, when, key
  const char* not_compared;  ///< keys
  const char* earlier_form;  ///< form, present form
  const char* shown_is_of;   ///< one of the next two, one of the two after them
  const char* its_opening;
  const char* entry;  ///< number
  const char* none_later;
  const char* later;          ///< how many
  const char* key_made;       ///< file, whose, file, code
  const char* signed_now;     ///< job, who, last entry, seal
  const char* sheet_written;  ///< file, job
  // batch
  const char* batch_done;    ///< files, before, now, with an error
  const char* watching;      ///< folder, seconds
  const char* watched;       ///< taken, with an error
  const char* not_complete;  ///< file
  const char* has_changed;   ///< file
  const char* measured;      ///< file
  // record
  const char* recorded;      ///< file, seconds, frames, rate, source, format
  const char* channel_peak;  ///< channel, largest
  const char* none_lost;
  const char* lost_times;  ///< how often
  // sweep
  const char* sweep_head;  ///< file, turns, slowest, fastest
  const char* resonance;   ///< sensor, speed, damping, both by circle fit
  const char* advice;      ///< sentence
  // What `Sweep::advice` says; English as it says it.
  const char* no_resonance;   ///< figures
  const char* balance_below;  ///< figures
  const char* of_both;
  const char* spectra_head;   ///< file, turns, slowest, fastest, step
  const char* spectrum_line;  ///< sensor, order, size, unit
  const char* follow_order;
  const char* map_head;    ///< file, speeds, slowest, fastest, frequency, step
  const char* moves_most;  ///< sensor, size, unit, speed, frequency, order
  const char* map_as_numbers;
  // errors
  const char* error;  ///< what is refused
  const char* mend;   ///< what to do
  const char* line;   ///< its number, as the next ones
  const char* column;
  const char* sample;
  const char* channel;
  const char* entry_number;
  // console
  const char* page_at;   ///< address
  const char* watch_at;  ///< address of screens that only look on
  const char* ctrl_c_ends;
  const char* reachable;
};

}  // namespace counterspot
