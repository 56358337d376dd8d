#include "counterspot/drawing/picture_words.hpp"

namespace counterspot {

namespace {

const char* english_source(ErrorSource source) {
  return error_source_words(source).data();  // of literals, which end in nought
}

}  // namespace

const PictureWords& english_picture_words() {
  static constexpr PictureWords words{
      .shaft = "shaft {}",
      .job = "job {}",
      .rig = "rig {}",
      .files_of = "files of {}",
      .as_of = "as of {}",
      .verdict = "verdict: {}",
      .metric = "metric units",
      .inch = "inch units",
      .noise_floor = "noise floor",
      .lines_apart = "lines {} orders apart",
      .band_of_95 = "dotted: the curve's end holds in 95 of 100 cases",
      .steady_in_map = "triangles: steady lines, Hz",
      .residual_of_spins = "RESIDUAL OVER ITS LIMIT, SPIN BY SPIN",
      .spin_after_spin = "spin by spin",
      .unsure_by = "WHAT THE RESIDUAL IS UNSURE BY",
      .standard_of_magnitude = "standard uncertainty of its magnitude",
      .together = "together",
      .of_source = english_source,
      .coefficients_of_jobs = "COEFFICIENTS OF THE RIG, JOB BY JOB",
      .size_of_first = "size over the first jobs'",
      .turned_by = "turned by",
      .band = "band",
      .too_few_jobs = "too few jobs yet to compare",
      .rig_health = "HEALTH OF THE RIG, CHECK BY CHECK",
      .sensor_change = "sensors read more by",
      .bare_moved = "bare shaft's reading moved by",
      .check_after_check = "check by check",
      .orbit = "ORBIT, {}",
      .orbit_note = "sensors at a right angle, {}",
      .mark_passes = "dot: the mark passes the tach",
      .one_piece = "1 piece",
      .pieces = "{} pieces",
      .worst_of_limit = "worst {} of a limit",
      .or_fewer = "OR {}",
      .trials_off = "FIRST take the trial weights off: {}",
      .vectors_key =
          "vectors: thick the last spin, dashed earlier ones; dash with two dots: limit; dotted: holds the "
          "last in 95 of 100 cases",
  };
  return words;
}

}  // namespace counterspot
