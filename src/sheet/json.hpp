#pragma once

#include "counterspot/sheet/sheet.hpp"
#include "counterspot/sheet/verify.hpp"
#include "report/json.hpp"

namespace counterspot {

/// The recordings that a sheet or a report rests on, each with its hash.
Json spins_json(const std::vector<SheetSpin>& list);

Json signatures_json(const std::vector<Event>& signatures);

Json document_of(const Verified& verified);

}  // namespace counterspot
