#include "rig/recording_again.hpp"

#include <fmt/format.h>

#include "job/recording_again.hpp"
#include "solve/same_recording.hpp"

namespace counterspot {

void refuse_recording_again(const RigWork& work, const Spun& spun) {
  for (const auto& event : state_of(work).spins) {
    if (!event || !is_same_recording(std::get<RigSpun>(event->what).spun, spun)) continue;
    throw same_recording(
        fmt::format("this recording is spin {} already", std::get<RigSpun>(event->what).step + 1),
        "enter the recording of this spin; if an earlier one is wrong, take spins back until it is the last");
  }
}

}  // namespace counterspot
