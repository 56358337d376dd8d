#pragma once

#include "counterspot/no_phase.hpp"
#include "counterspot/solution.hpp"
#include "documents/shown.hpp"
#include "guide/json.hpp"

namespace counterspot {

/// Results as programs are given them: the same documents for `--json` and for the C interface. Keys are in snake_case
/// and end in their unit, in the order in which a person would tell it.
Json document_of(const Track& track, const Shown& how = {}, bool budget = false);
Json document_of(const Solution& solution, const SpinSet& set);
Json document_of(const AmplitudeSolution& solution, const AmplitudeSet& set);
Json document_of(const Limits& limits);

Json to_json(const FitInstruction& fit);

/// The document as text without a line's end. Names that are no UTF-8 (of files, of columns) get U+FFFD where they are
/// not.
std::string one_line(const Json& document);

/// 1 for a whole order, 0.5 for another.
Json order_json(double order);

}  // namespace counterspot
