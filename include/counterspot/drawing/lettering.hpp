#pragma once

#include <string>

namespace counterspot {

/// The family of the font that pictures are really lettered with here; where osifont is not installed, another.
/// @throws Error(machine, "no_ink") if the part that draws is not there.
std::string lettering_there();

}  // namespace counterspot
