#include "counterspot/drawing/rig_model_words.hpp"

namespace counterspot {

const RigModelWords& english_rig_model_words() {
  static constexpr RigModelWords words{
      .head = "RIG {}   {}",
      .hard = "a hard rig, learnt from {}, {} to {}",
      .soft = "a soft rig, learnt from {}, {} to {}",
      .one_job = "{} job",
      .jobs = "{} jobs",
      .of_others = ", {} of them from another log",
      .and_qualification = " and its qualification",
      .only_qualification = "its qualification",
      .qualification = "qualification",
      .not_known = "not known yet",
      .not_known_by = "not known yet (± {} %)",
      .pedestal = "PEDESTAL {}",
      .moving_mass = "moving mass",
      .natural_frequency = "natural frequency",
      .Hz_bare = "Hz, with no shaft on it",
      .damping = "damping",
      .of_critical = "% of critical",
      .dynamic_stiffness = "dynamic stiffness",
      .N_um_at = "N/um at {} rpm",
      .sensor_reads = "its sensor reads",
      .of_what_is_there = "% of what is there",
      .sensor_at = "its sensor stands at",
      .drift = "drift",
      .drift_unknown = "not known before 8 jobs",
      .drift_of = "{} % in the newest jobs, ± {} %",
      .coupling = "COUPLING of the pedestals through the base",
      .stiffness = "stiffness",
      .mass = "mass",
      .of_pedestals = "% of the pedestals' own",
      .bed = "BED, which moves on its feet",
      .moves = "moves up and down",
      .tilts = "tilts",
      .Hz_by_itself = "Hz by itself",
      .swinging = "SOMETHING THAT SWINGS on {}",
      .on_both = "both pedestals",
      .on_pedestal = "pedestal {}",
      .swings = "swings",
      .foretold = "FORETOLD before the first spin, for a plain tube with 5 kg at its ends",
      .span = "{} m between the supports, {} kg, {} rpm",
      .good = "good",
      .fair = "fair",
      .unknown = "unknown",
      .taught_by = "TAUGHT BY, with what each says of the pedestals' stiffness beside all others",
      .teacher = "{} {}, {} rpm",
      .set_aside = "; set aside, see LOOK AT",
      .brought_in = "BROUGHT IN from another log, and believed as if its jobs were here",
      .file = "{}, written {} by {}, brought in {}",
      .shafts = "shafts {}",
      .shaft = "SHAFT {}",
      .resonates_near = "resonates near",
      .on_this_rig = "{}, on this rig",
      .rpm = "{} rpm",
      .one_not_known = "one not known yet",
      .no_resonance = "no speed that it could be balanced at",
      .balance_at = "balance at",
      .balance_best = "BALANCE at",
      .best = "{} rpm: away from these, and read well; coefficients foretold to ± {} %",
      .no_safe_speed =
          "no speed to advise: none from 400 rpm on is safe for it, no faster than its service, and known on this rig",
      .none_away = "no speed to advise: none up to {} rpm is surely 30 % away from these",
      .look_at = "LOOK AT  {}.",
      .nothing_to_look_at = "Nothing to look at: no job is set aside, no sensor and no pedestal has changed.",
      .job_aside =
          "{} ({}) hardly counts: its spins say otherwise than all other jobs (χ² {} of {}). Look at what was stated "
          "to be fitted there, and at the shaft's mass",
      .sensor_step =
          "From {} ({}) on sensor {} reads {} % {} and {} deg {}. Was it changed or moved? If not, look at its "
          "mounting and cable, and at pedestal {}: hold-down bolts, a cracked foot",
      .more = "more",
      .less = "less",
      .later = "later",
      .earlier = "earlier",
      .softer =
          "Pedestal {} has become softer by {} % in the newest jobs. Look at its hold-down bolts, a cracked foot, what "
          "is clamped to it",
      .stiffer =
          "Pedestal {} has become stiffer or heavier by {} % in the newest jobs. Look at what leans on it or was "
          "mounted on it, and at its springs",
      .bed_near =
          "The bed resonates near {}, among the speeds that this rig balances at. Look at its feet and what fastens "
          "them to the floor, with the rig standing still; balance away from there",
      .and_ = " and ",
      .swings_near =
          "Something swings by itself near {} rpm on {}, among the speeds that this rig balances at. Look there for a "
          "loose guard, bracket, hose or cable, with the rig standing still; balance away from there",
  };
  return words;
}

}  // namespace counterspot
