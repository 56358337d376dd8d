#pragma once

#include <array>
#include <optional>
#include <vector>

#include "counterspot/rig_setup/setup.hpp"
#include "counterspot/tracking/sweep.hpp"

namespace counterspot {

/// What all steps but the proof found.
struct Gathered {
  std::vector<RestFinding> rest, running;  ///< one per channel
  std::array<KnockFinding, 2> knocks;      ///< at A and at B
  HandTurnFinding hand;
  SlowRunFinding slow;
  std::array<std::optional<ShakerFinding>, 2> shaker;  ///< of A and of B, where they were on one
  std::vector<Said> swept;                             ///< what a sweep showed, a sentence each
  bool full_scale = false;                             ///< samples are fractions of it
};

/// The rig as the file will say it; its rotation is right once `told.top_goes` is told, its edge after the slow run.
Rig rig_of(const SetupTold& told, const Gathered& all);
/// What the shaker says a sensor gives, for one SI unit of `motion`; what the input takes off at its frequency put
/// back.
double volts_per_si_on_shaker(const ShakerFinding& found, const KnockFinding& knocked, const SetupTold& told,
                              bool full_scale, Motion motion);
/// In %, 95 %: the shaker's own and how steady it was.
double percent_on_shaker(const ShakerFinding& found);
/// The resonances of rig and shaft together, the speeds to keep from, and what of the swept ones is left.
std::vector<Said> swept_text(const Sweep& sweep, const SpeedSpan& range, double balancing_rad_s);
/// Of a pedestal that was knocked on, if its knocks agree: 2 % at least, for three knocks hardly differ (common
/// practice, no source).
std::optional<Spread> stated_natural_Hz(const KnockFinding& knocked);
Said over_others_text(const KnockFinding& knocked);
Said rig_text_of(const SetupTold& told, const Gathered& all, const Rig& rig, const Proof& proof);

}  // namespace counterspot
