#pragma once

#include <vector>

#include "counterspot/guide/guide.hpp"

namespace counterspot {

/// What a stock has for the correction that a job's next step asks for: what `place` finds from a file of spins.
struct StockCorrection {
  Base base = Base::as_spun;
  std::vector<FittedWeight>
      on_shaft;  ///< what it goes on top of: with `bare` what stays once the trial weights are off
  Correction correction;
};

/// @param base `bare`: the trial weights that the step takes off are off.
/// @throws Error(request, "nothing_asked") if the step asks for no correction, or not on that base; what
/// plan_correction does.
StockCorrection stock_correction(const KnownJob& known, const Stock& stock, Base base,
                                 const CorrectionOptions& options = {});

}  // namespace counterspot
