#include "commands/stated_options.hpp"

namespace counterspot::commands {

StatedOptions add_stated_options(CLI::App& command, StatedRecording& stated) {
  CLI::Option* rate = command.add_option("--sample-rate", stated.sample_rate,
                                         "Of a recording without times, such as \"51.2 kHz\", in place of the rig "
                                         "file's; one that has another is refused");
  CLI::Option* channels =
      command
          .add_option("--channels", stated.channels,
                      "Where sensors and tach are, in place of the rig file's channels: A=2,B=3,tach=1, or a column's "
                      "name, A=accel_a")
          ->allow_extra_args(false);
  return {rate, channels};
}

}  // namespace counterspot::commands
