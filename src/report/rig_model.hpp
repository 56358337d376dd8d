#pragma once

#include <string>
#include <utility>
#include <vector>

#include "counterspot/drawing/rig_model_words.hpp"
#include "counterspot/drawing/words.hpp"
#include "counterspot/guide/rig_teaching.hpp"
#include "report/json.hpp"

namespace counterspot {

/// What the owner should look at: jobs that do not fit, sensors that read otherwise since, pedestals that have drifted;
/// a sentence each.
std::vector<std::string> sentences_of(const RigShown& shown, const Words& words = english());

/// "pedestal A", "both pedestals".
std::string place_of(const AttachedCondition& attached, const std::array<std::string, 2>& sensors,
                     const RigModelWords& texts);

/// "good", "fair", "unknown".
const char* reach_name(const Reach& reach, const RigModelWords& texts = english_rig_model_words());

/// What the owner is shown, part by part: the one writer for command and page.
struct RigPart {
  std::string heading;
  std::vector<std::pair<std::string, std::string>> rows;  ///< what, and what is known of it
};
std::vector<RigPart> parts_of(const RigShown& shown, const Words& words);
/// "a soft rig, learnt from 10 jobs, 2025-11-25 to 2025-12-04".
std::string heading_of(const RigShown& shown, const Words& words);
/// Which balancing speed suits the shaft, and where it resonates.
RigPart part_of(const SpeedAdvice& advice, const Shaft& shaft, const Words& words);

/// Of the words of a language.
const RigModelWords& rig_model_words(const Words& words);
/// A job that taught, or the qualification.
std::string teacher_name(const std::string& teacher, const RigModelWords& texts);

Json document_of(const RigShown& shown);
Json document_of(const SpeedAdvice& advice);

}  // namespace counterspot
