#pragma once

#include <string>
#include <vector>

#include "counterspot/files/table.hpp"
#include "files/result_form.hpp"
#include "report/json.hpp"

namespace counterspot {

/// The rows of a table that a document of `track`, `sweep` or `solve` gives, with the document's own numbers: one for
/// each recording, sensor and order, of a sweep also for each turn; of a file that cannot be used one with the error.
/// The residual of each plane stands beside the spin that it was found of.
std::vector<TableRow> rows_of(const Json& document);

/// What a file of this form holds of one result, and of several.
std::string results_text(ResultForm form, const Json& document);
std::string results_text(ResultForm form, const std::vector<Json>& documents);

}  // namespace counterspot
