#pragma once

#include <array>
#include <vector>

#include "counterspot/rig_setup/setup.hpp"

namespace counterspot {

/// What all steps but the proof found.
struct Gathered {
  std::vector<RestFinding> rest, running;  ///< one a channel
  std::array<KnockFinding, 2> knocks;      ///< at A and at B
  HandTurnFinding hand;
  SlowRunFinding slow;
  bool full_scale = false;  ///< samples are fractions of it
};

/// The rig as the file will say it; its rotation is right once `told.top_goes` is told, its edge after the slow run.
Rig rig_of(const SetupTold& told, const Gathered& all);
Said over_others_text(const KnockFinding& knocked);
Said rig_text_of(const SetupTold& told, const Gathered& all, const Rig& rig, const Proof& proof);

}  // namespace counterspot
