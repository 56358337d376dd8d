#include "counterspot/drawing/instruction_words.hpp"
#include "counterspot/guide/cautions.hpp"

namespace counterspot {

namespace {

/// Goes on from "it".
std::string_view english_rule(TrialRule rule) {
  switch (rule) {
    case TrialRule::limit: return "is twice the permissible residual unbalance";
    case TrialRule::room: return "is all that the plane may carry";
    case TrialRule::least_limit: return "is as much as the permissible residual unbalance";
    case TrialRule::coefficient:
    case TrialRule::support_load: break;
  }
  return trial_rule_name(rule);
}

std::string_view english_title(StepKind kind) {
  switch (kind) {
    case StepKind::spin_as_found: return "Spin the shaft as found";
    case StepKind::spin: return "Spin it with what is fitted";
    case StepKind::spin_again: return "Spin again, longer";
    case StepKind::fit_trial: return "Fit a trial weight";
    case StepKind::fit_correction: return "Fit what is shown";
    case StepKind::say_fitted: return "What is on the shaft?";
    case StepKind::close: return "Within limit";
    case StepKind::close_not_within: return "Not within limit";
    case StepKind::mend: return "Check the spins";
    case StepKind::nothing: return "This job is closed";
  }
  return "";
}

}  // namespace

const InstructionWords& english_instructions() {
  static constexpr InstructionWords words{
      .speed = "{} rpm",
      .short_piece = "{} g at {} in plane {}",
      .place = "plane {}: {} g at {}, seen from end {}, the mark at 12:00, radius {} mm",
      .by_tape = "; by tape {} mm {} from the mark",
      .pull = "; it pulls with {} N",
      .shaft_angle = "shaft angle {} deg",
      .at_mark = "at the mark, {}",
      .tape_from_mark = "{} by tape {} from the mark, {}",
      .nothing = "nothing",
      .spin_as_found = "SPIN the shaft as it was found",
      .spin_on = "SPIN the shaft with the weights that are on it now",
      .at_speed = " at {}",
      .record_as_found = "with nothing fitted; record ten seconds or more at a steady speed, then 'job spin FILE'",
      .bends = "this shaft bends within its speed range: every set of weights is spun at each of these speeds",
      .none_on = "nothing is on",
      .one_on = "one weight is on",
      .several_on = "{} weights are on",
      .record_as_before = "{}; record at the speed of the spins before, then 'job spin FILE'",
      .spin_longer = "SPIN AGAIN, longer: too near the limit to be sure",
      .nothing_to_fit = "nothing is to be fitted; a longer and calmer recording makes the uncertainty smaller",
      .spins_contradict = "SPIN AGAIN: the spins contradict one another",
      .fit_trial = "FIT a trial weight at plane {}: {} g at {}",
      .and_fit_trial = " and at plane {}: {} g at {}",
      .rule_and_place = "it {}; {}",
      .of_rule = english_rule,
      .of_place = trial_place_words,
      .of_stock = "of the stock: {}; 'job fit --as-asked' wants the same --stock",
      .take_off_first = "TAKE the weights off plane {}, then fit one trial weight there",
      .may_carry = "the plane may carry {} g in all",
      .find_trial = "FIND a trial weight for plane {}: nothing of the stock may be fitted there",
      .fit_any_trial = "FIT a trial weight at plane {}, at the mark",
      .how_heavy =
          "weigh it first; it should change the reading by about a third, and not pull with more than a tenth of what "
          "its support carries",
      .no_more_than = "no more than {} g",
      .then_say =
          "then say what was fitted with 'job fit', and spin; earlier trial weights may stay on or come off, as long "
          "as 'job fit' says so",
      .chance_falls = "chance that the vibration falls: {} %",
      .chance_within = "; that the shaft is within limit with this spin: {} %",
      .spins_trial_first = "spins still to come: about {} this way, about {} with a correction first",
      .spins_correction_first = "spins still to come: about {} this way, about {} with a trial weight first",
      .fit = "FIT {}",
      .off_and_fit = "TAKE the trial weights off and FIT {}",
      .take_off = "take off {}",
      .numbered_piece = "weight {}, {}",
      .no_more = "with the trial weights on, the planes may carry nothing more that makes it better",
      .or_leave_on = "OR leave the trial weights on, and fit on top of them:",
      .on_top = "on top of what is on the shaft; {}",
      .expected = "expected to leave about {} % of the limit",
      .expected_by_earlier = "expected to leave about {} % of the limit, from what earlier shafts taught",
      .if_so = "{}; if so, '{}'",
      .was_it_on = "SAY: a weight was asked for and none stated, but the reading moved by {} %: is it on?",
      .what_is_on = "SAY what is on: nothing was stated, but the reading moved by {} %",
      .on_as_asked = "it was on in the last spin as asked: '{}'",
      .on_other = "another weight was on: '{}'",
      .on_none = "nothing was fitted or came off: '{}', and look why the reading moved",
      .close = "CLOSE the job: the shaft is within limit",
      .final_residual = "the final residual is {} % of the limit; 'job close' writes it into the log",
      .close_outside = "CLOSE the job: the shaft is not within limit",
      .close_unsure = "CLOSE the job: it cannot be said that it is within limit",
      .written_as = "'job close' writes it into the log as {}",
      .still_in_doubt = "after {} spins with these weights still: {}",
      .too_unsure = "after {} spins alike the residual is {} % of the limit and its ± {} %",
      .what_is_unsure =
          "'solve --budget' says what the ± comes from; heavier trial weights in a new job make it smaller",
      .too_many = "{} corrections did not bring it within limit",
      .what_changes =
          "look for what changes from spin to spin: bolts, joints, bearings, the mark; and whether every weight was "
          "stated as it was fitted",
      .no_room = "no weight that the planes may still carry makes it better",
      .more_room = "use other planes, or allow more (at_most)",
      .no_answer = "CHECK the spins: they give no answer",
      .in_doubt_first = "CHECK before anything else: the readings are in doubt",
      .doubted_spin = "spin '{}': {}",
      .to_mend = "to mend it: {}",
      .spin_over_again = "then take entry {} back, put the weights of that spin on, and spin again",
      .closed_already = "NOTHING: the job is closed",
      .title_of = english_title,
      .job = "JOB {}",
      .now = "now ",
      .takes_back = "'job back {} --reason …' takes it back",
      .held_back = "IN DOUBT  {}{}\n    MEND  {}\n",
      .of_spin = "spin '{}': ",
      .of_spins = "spins '{}': ",
      .held = "{}: {} of {}, {}",
      .doubted = "in doubt: {}",
      .taught_by_shafts = "with what earlier shafts taught",
      .taught_by_rig = "with what the rig taught (earlier shafts: {}{})",
      .from_elsewhere = ", of them from another log: {}",
      .job_stands = "JOB {}   {}   opened {}   {}",
      .open = "open",
      .closed = "closed",
      .gone = "(taken back) ",
      .speed_read = "{} rpm",
      .sensor_read = "sensor {}: {}",
      .reading = "{} {} at {} deg",
      .warning = "warning: {}",
      .note = "note: {}",
      .of_all_spins = "all spins: ",
      .of_many_spins = "{} spins: ",
      .and_between = " and ",
      .to_between = " to ",
      .nothing_more_on = "nothing that was not there as found",
      .piece = "plane {}: {} at {} deg, radius {}",
      .spin = "spin: {}",
      .on_from_here = "on the shaft from here on",
      .taken_back = "taken back",
      .signed_now = "signed",
      .signed_by = "by {}, key {}",
      .order_said = "order completed",
      .order_of = "Order of job {}:",
      .no_order = "nothing is stated",
      .entry = "entry {}: {}",
      .closed_on_spin = "closed on the spin of entry {}",
      .closed_without_spin = "closed without a final spin",
      .job_is_closed = "JOB {} is closed.",
      .without_residual = "without a final residual",
      .closed_within = "NEXT  Mark the shaft as within limit, and have its sheet signed: counterspot sheet {}",
      .closed_otherwise =
          "NEXT  Keep the shaft apart until the responsible engineer has decided; its sheet: counterspot sheet {}",
      .stated = "STATED as entry {0}; 'job back {0} --reason …' takes it back",
      .now_on = "now on the shaft: ",
      .asked_for = "asked for, on top of what was on: ",
      .asked_bare = "asked for, trial weights off: ",
      .or_on_top = "or, trial weights left on: ",
      .was_taken_back = "TAKEN BACK  entry {}, {}",
      .caution = "CAUTION",
      .caution_lines = caution_lines,
  };
  return words;
}

}  // namespace counterspot
