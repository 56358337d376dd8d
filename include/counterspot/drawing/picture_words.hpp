#pragma once

#include "counterspot/influence/influence.hpp"

namespace counterspot {

/// Texts of pictures that stand by themselves, in one language; part of `Words`. {} is where a number or name goes.
struct PictureWords {
  // The line over a picture, that says what it is of.
  const char* shaft;
  const char* job;
  const char* rig;
  const char* files_of;  ///< the day of the newest of them
  const char* as_of;     ///< the day of a job's newest entry
  const char* verdict;
  const char* metric;
  const char* inch;
  // Spectra and sweeps.
  const char* noise_floor;
  const char* lines_apart;
  const char* band_of_95;  ///< what the lines beside a curve are
  const char* steady_in_map;
  // Residuals and their budget.
  const char* residual_of_spins;
  const char* spin_after_spin;
  const char* unsure_by;
  const char* standard_of_magnitude;
  const char* together;
  const char* (*of_source)(ErrorSource source);
  // The rig over its jobs and checks.
  const char* coefficients_of_jobs;
  const char* size_of_first;
  const char* turned_by;
  const char* band;  ///< of a rig that has not changed
  const char* too_few_jobs;
  const char* rig_health;
  const char* sensor_change;
  const char* bare_moved;
  const char* check_after_check;
  // Orbits.
  const char* orbit;       ///< names of both sensors
  const char* orbit_note;  ///< order and speed
  const char* mark_passes;
  // Choices of pieces.
  const char* one_piece;
  const char* pieces;
  const char* worst_of_limit;
  const char* or_fewer;
  // What to fit, and vectors on a sheet.
  const char* trials_off;  ///< the trial weights that come off first
  const char* vectors_key;
};

const PictureWords& english_picture_words();
const PictureWords& german_picture_words();

}  // namespace counterspot
