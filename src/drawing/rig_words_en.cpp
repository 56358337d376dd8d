#include "counterspot/drawing/rig_words.hpp"

namespace counterspot {

const RigWords& english_rig_words() {
  static constexpr RigWords words{
      .of_task = rig_task_name,
      .of_place = rig_place_name,
      .of_verdict = rig_verdict_name,
      .failed_loud = "FAILED",
      .fit = "FIT",
      .mass_to_fit = " {} g on {} at {} deg",
      .and_spin = ", nothing else, and SPIN",
      .spin_bare = "SPIN the reference shaft without test masses",
      .at_part_of_speed = " at {} % of the speed",
      .turned = ", turned by {} deg against its adapters",
      .mass = "plane {}  {} g  at {}, seen from end {}, the mark at 12:00; shaft angle {} deg, radius {} mm",
      .at_first_speed = "at the speed you balance at; the spins after it are made at the same",
      .at_speed = "at {} rpm",
      .mark_to_mark = "mount it with its mark at the adapters' mark, and leave it so until you are told to turn it",
      .left_alone = "leave the shaft in its adapters as it is",
      .mount_turned =
          "take the shaft out, and mount it with its mark {} deg from the adapters' mark, counted against the rotation",
      .spin_next = "NEXT  Spin, and 'rig spin RECORDING'.",
      .no_result = "All spins are made, and they cannot be judged",
      .qualified = "The rig IS QUALIFIED",
      .not_qualified = "The rig IS NOT QUALIFIED",
      .within = "The rig is WITHIN its band",
      .outside = "The rig is OUTSIDE its band",
      .sensitivities_found = "New sensitivities are found",
      .no_sensitivities = "New sensitivities would not mend this",
      .ended = "The {} was ended: {}",
      .of_finding = nullptr,
      .of_remedy = nullptr,
      .of_unjudged = nullptr,
      .sensor_reads = nullptr,
      .no_sensitivity_explains = nullptr,
      .qualified_numbers =
          "Umar found {} g·mm in {}, {} g·mm in {};  reduction {} % at least;  mountings differ by {} g·mm",
      .report_next = "NEXT  'rig report' writes it down; 'rig check' each day.",
      .mend = "NEXT  Mend what failed ({}), and {}.",
      .qualify_again = "qualify the rig again",
      .check_again = "check again before any shaft",
      .go_on = "NEXT  Go on balancing.",
      .begin_again = "NEXT  Mend sensors and cables, and begin again.",
      .sensitivity_change = "sensor {}  {} of what its file says",
      .write_next = "NEXT  'rig recalibrate --write --rig rig.toml' writes the new sensitivities into the rig's file.",
      .head = "RIG {}   {} with {}",
      .number = "{} of {}",
      .begun = ", begun {}",
      .spin_of_step = "spin  step {}",
      .judged = "judged",
      .ended_by = "ended: {}",
      .rig = "RIG {}   ",
      .never_qualified = "never qualified",
      .qualified_on = "qualified on {}, due {}",
      .overdue = ": OVERDUE",
      .last_failed = "The last qualification FAILED:",
      .last_check = "last check {}: {}",
      .check_within = "within",
      .check_outside = "OUTSIDE",
      .report_written = "the qualification of rig {}",
      .of_model = english_rig_model_words,
  };
  return words;
}

}  // namespace counterspot
