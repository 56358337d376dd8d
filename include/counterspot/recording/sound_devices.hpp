#pragma once

#include <optional>
#include <string>
#include <vector>

#include "counterspot/recording/capture.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

/// A sound device that can record, as it says itself, without what would convert its samples.
struct SoundDevice {
  std::string source;       ///< as `open_live` takes it: "alsa:hw:CARD=U,DEV=0"
  std::string description;  ///< in the words of its driver, on one line
  int least_channels = 0;
  int most_channels = 0;
  std::vector<double> rates_Hz;    ///< of those that are usual, ascending
  std::vector<RawFormat> formats;  ///< best first
  std::optional<Error> trouble;    ///< why it cannot be asked, as while another program holds it
};
/// What is best recorded from it: 48 kHz or the next rate above, for more only makes files larger (common practice, no
/// source), else its highest; all channels up to eight, for the knocks tell which are used; its best format.
LiveOptions best_of(const SoundDevice& device);

/// Those that ALSA names for recording. Names that only add a conversion, a share or a place of loudspeakers to another
/// one are left out.
std::vector<SoundDevice> sound_devices();

}  // namespace counterspot
