#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/guide/guide.hpp"
#include "counterspot/guide/tap_guide.hpp"
#include "counterspot/log/rig_log.hpp"
#include "counterspot/solve/solution.hpp"

namespace counterspot {

/// The guided work on a rig itself, for command line and page alike.

/// Keeps a spin as the answer to the next step; with the last one also what all come to, both or neither.
/// @param fitted what was really fitted; empty: what was asked for. @throws Error as `append`, `result_of`.
RigWork keep_rig_spin(Log& log, const RigWork& seen, const Spun& spun,
                      const std::optional<std::vector<FittedWeight>>& fitted, const std::string& program,
                      std::int64_t at_unix_s);

/// Takes the last spin back; it stays in the log. @throws Error as `append`.
RigWork take_back_rig_spin(Log& log, const RigWork& seen, const std::string& reason, const std::string& program,
                           std::int64_t at_unix_s);

/// What hands do at the reference shaft before the next spin.
struct RigHands {
  std::vector<FittedWeight> take_off;  ///< was on when it was spun last, and is not wanted now
  std::vector<FittedWeight> stay;      ///< was on, and is wanted as it was
  std::vector<FittedWeight> fit;       ///< the rest of what is wanted
};
/// Of masses that were not what was asked for none stays: they are asked for anew.
RigHands hands_before_spin(const RigWork& work);

/// @param masses all that are stated to be on for the next spin. @throws Error(request, "unlike_asked") for one that
/// was not asked for, or one that is missing: beside a fifth of its mass, or half a step of the positions.
void refuse_unlike_planned(const RigWork& work, const std::vector<FittedWeight>& masses);

/// Checks a rig by recordings of three knocks on either pedestal, held against the first that were within since it was
/// sound. What can be told is kept; what must be done again is not. @throws what `tap_check` and `open_recording` do.
FoundOrAgain<TapCheck> check_by_knocks(Log& log, const Rig& rig, const std::filesystem::path& knocks_a,
                                       const std::filesystem::path& knocks_b, const std::string& program,
                                       std::int64_t at_unix_s);

/// How a rig stands: when it was proved, and until when that holds.
struct RigStanding {
  std::optional<std::int64_t> qualified_unix_s;  ///< the last qualification that passed
  std::optional<std::int64_t> due_unix_s;
  bool overdue = false;
  bool last_failed = false;                    ///< a later one did not pass
  std::vector<RigPlace> failed_places;         ///< where
  std::optional<std::int64_t> checked_unix_s;  ///< the last daily check that was finished
  std::optional<bool> check_within;
  std::optional<KeptTaps> taps;  ///< the last daily check by knocks

  /// When a reference shaft last showed it to be sound: a qualification that passed, or a check that was within. 0:
  /// never.
  std::int64_t sound_unix_s() const;
  bool check_speaks_against() const;  ///< the last check was outside, and no qualification has passed since
  bool taps_speak_against() const;    ///< the last knocks were, and no reference shaft has shown it to be sound since
  bool checked_in_last_day(std::int64_t now_unix_s) const;  ///< by spin or by knocks, whatever it showed
};
/// @param rig for its name, and how often it says it must be qualified (else once a year).
RigStanding standing_of(const Log& log, const Rig& rig, std::int64_t now_unix_s);

/// What a daily check holds for: 24 hours, whatever the calendar says of a shift past midnight.
bool in_last_day(std::int64_t at_unix_s, std::int64_t now_unix_s);

/// The daily checks of a rig that were finished, oldest first.
std::vector<RigCheck> finished_checks(const Log& log, const std::string& rig);

/// The last qualification of a rig that passed.
std::optional<RigWork> last_proof(const Log& log, const std::string& rig);

/// If the rig's qualification is overdue: said once. A rig that was never qualified is not warned of; of one that
/// failed speaks `knowledge_of_rig`.
std::optional<Warning> qualification_due(const Log& log, const Rig& rig, std::int64_t now_unix_s);

/// What the log knows of a rig that has a part in a verdict: its adapters (found by index balancing, or else by its
/// qualification), how mountings differ, and what its readings scatter by.
RigKnowledge knowledge_of_rig(const Log& log, const std::string& rig);

/// The newest recalibration of a rig, if it was finished, and the rig was not qualified since.
/// @throws Error(request, "not_recalibrated").
RigWork finished_recalibration(const Log& log, const std::string& rig);

/// A rig's file with the sensitivities that its newest recalibration found; the same text if they stand there.
/// @throws Error(request, …) as `finished_recalibration` and `with_new_sensitivities`; "not_sound" where sensitivities
/// alone do not explain what has changed.
std::string put_right(const Log& log, const KeptFile& rig_file);
/// And written, whole or not at all. @return its text
std::string write_put_right(const Log& log, const std::filesystem::path& rig_file);

/// A text with `sensitivity = "…"` of each sensor replaced by what a recalibration found, everything else as it was.
/// @throws Error(request, …) "no_place" if the file does not state a sensor's sensitivity where it could be replaced;
/// "no_sensitivity".
std::string with_new_sensitivities(const std::string& rig_text, const Rig& rig, const Recalibration& found);

/// "103.2 mV/g": the sensitivity as the file states it, times a factor. @throws Error(request, "bad_quantity").
std::string scaled_sensitivity(const std::string& text, double factor);

}  // namespace counterspot
