#pragma once

#include <vector>

namespace counterspot {

/// One reading of a dial that stays in its place while the shaft is turned by hand.
struct DialReading {
  double angle_rad = 0.0;  ///< shaft angle of the spot under the dial
  double height_m = 0.0;   ///< plunger pushed in counts as positive; any zero
};

/// All readings round the shaft at one place along it.
struct DialStation {
  double position_m = 0.0;
  std::vector<DialReading> readings;  ///< at least three different angles
};

}  // namespace counterspot
