#pragma once

#include "console/page_words.hpp"
#include "counterspot/guide/stock_correction.hpp"

namespace counterspot {

/// Each way with its pieces as the shop makes and fits them, what it is expected to leave, and how that is known.
Json words_of(const StockCorrection& found, const Stock& stock, const KnownJob& known, const Viewer& viewer);

}  // namespace counterspot
