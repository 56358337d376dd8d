#pragma once

#include "counterspot/drawing/words.hpp"
#include "counterspot/guide/stock_guide.hpp"
#include "report/json.hpp"

namespace counterspot {

/// What is asked of a stock and what was answered, the file that comes of it and the one that is there: seen, stage,
/// file, shops, there, by_hand, kept_as, answers, next, number, text, trouble, in one language.
Json document_of(const StockStanding& standing, const StockPlace& place, const Words& words);

}  // namespace counterspot
