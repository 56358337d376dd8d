#pragma once

#include "console/page_words.hpp"
#include "counterspot/guide/stock_correction.hpp"

namespace counterspot {

/// One way to the correction with the stock: what comes off or is moved, and what is fitted.
struct StockWay {
  std::string name;                    ///< "fewer", "best", "plan-1", …
  std::vector<int> off;                ///< numbers of pieces on the shaft, 1, 2, 3, …: taken off, or moved
  std::vector<FittedWeight> fit;       ///< moved pieces at their new places first
  const FittingSummary* fitting = {};  ///< of "fewer" and "best"
  const Plan* plan = {};               ///< of the others
};
/// The choice with fewer pieces first, where there is one: it is as good on the shaft. Of what can be done with the
/// pieces that are on, what brings the shaft within limit, by prediction. They live as long as what they are of.
std::vector<StockWay> ways_of(const StockCorrection& found);

/// Each way with its pieces as the shop makes and fits them, what it is expected to leave, and how that is known.
Json words_of(const StockCorrection& found, const Stock& stock, const KnownJob& known, const Viewer& viewer);

}  // namespace counterspot
