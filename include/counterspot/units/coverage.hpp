#pragma once

namespace counterspot {

/// What stands behind a ±, wherever it is shown or typed: twice the standard uncertainty, which holds about 95 % (GUM,
/// JCGM 100:2008, 6.2).
inline constexpr double coverage_factor = 2.0;

}  // namespace counterspot
