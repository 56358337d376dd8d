#pragma once

#include <string>
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

/// One way to the correction with the stock: what comes off or is moved, and what is fitted.
struct StockWay {
  std::string name;                    ///< "fewer", "best", "plan-1", …
  std::vector<int> off;                ///< numbers of pieces on the shaft, 1, 2, 3, …: taken off, or moved
  std::vector<FittedWeight> fit;       ///< moved pieces at their new places first
  const FittingSummary* fitting = {};  ///< of "fewer" and "best"
  const Plan* plan = {};               ///< of the others
  double worst_ratio() const;          ///< what it leaves at the worst place, by prediction, over its limit
};
/// The choice with fewer pieces first, where there is one: it is as good on the shaft. Of what can be done with the
/// pieces that are on, what brings the shaft within limit, by prediction. They live as long as what they are of.
std::vector<StockWay> ways_of(const StockCorrection& found);

}  // namespace counterspot
