#pragma once

#include <string>
#include <vector>

#include "counterspot/files/table.hpp"

namespace counterspot {

/// Vectors of a table of results as datasets 58 of a universal file: of each recording, sensor and order one function
/// of the frequency of rotation, in Hz, with complex values A e^{−jφ} of A cos(kθ − φ). Rows without a speed or a
/// vector are left out.
/// @throws Error(request, "no_vectors") if there is nothing to write.
std::string universal_text(const std::vector<TableRow>& rows);

}  // namespace counterspot
