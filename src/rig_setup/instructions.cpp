#include <fmt/format.h>

#include "counterspot/rig_setup/setup.hpp"

namespace counterspot {

namespace {

constexpr const char* by_hand =
    "Hands go to the shaft and the pedestals only while the drive is isolated: switched off, locked, and tried.";
constexpr const char* turning =
    "Guard closed, nobody in the plane of rotation, speed under the safe limit, weights secured against their pull. To "
    "fit or remove a weight: drive isolated, and the shaft seen to stand.";

}  // namespace

SetupInstruction instruction_of(SetupStep step, const SetupTold& told) {
  switch (step) {
    case SetupStep::rest: return {"Leave the drive off and no shaft on. Record ten seconds, and touch nothing.", ""};
    case SetupStep::running:
      return {"No shaft on. Run the drive at the speed you balance at, and record ten seconds.", turning};
    case SetupStep::knocks_a:
    case SetupStep::knocks_b:
      return {fmt::format("No shaft on. Knock three times on pedestal {}, two seconds apart, with a light hammer: on "
                          "the side away from its sensor, so that each knock pushes towards the sensor.",
                          step == SetupStep::knocks_a ? "A" : "B"),
              by_hand};
    case SetupStep::hand_turn:
      return {fmt::format("Put a shaft on, its mark half a turn away from the tach. Record while you turn it by hand "
                          "exactly {} times, without a stop, in the direction in which the drive turns it.",
                          hand_turns_asked),
              by_hand};
    case SetupStep::slow_run:
      return {"Run the shaft slowly and evenly, about 300 rpm, and record fifteen seconds.", turning};
    case SetupStep::direction:
      return {
          "Stand at end A, outside the guard, and look along the shaft towards B while it runs slowly. Does its top "
          "go to your left or to your right? Say --top left or --top right; --viewing-end B if the clock will be "
          "read from end B.",
          turning};
    case SetupStep::bare:
      return {"Spin the shaft without added weights at the speed you balance at, and record ten seconds.", turning};
    case SetupStep::at_a:
    case SetupStep::at_b:
      return {
          fmt::format("Fit the known weight at the mark (12:00) at end {}, nothing else, and spin at the same speed. "
                      "Say what it weighs and its radius: --weight \"15 g\" --radius \"39 mm\".",
                      step == SetupStep::at_a ? "A" : "B"),
          turning};
    case SetupStep::known:
      return {
          fmt::format("Move the same weight to end A at 3:00, as seen from end {}, the mark at 12:00; nothing else. "
                      "Spin at the same speed.",
                      told.viewing_end),
          turning};
  }
  return {};
}

}  // namespace counterspot
