#pragma once

#include "counterspot/influence/influence.hpp"
#include "counterspot/model/shaft.hpp"
#include "files/toml_section.hpp"

namespace counterspot {

/// One of `fitted = [ { plane = "A", mass = "15 g", angle = "0 deg" } ]`.
FittedWeight read_fitted(TomlSection section, const Rig& rig, const Shaft& shaft);

}  // namespace counterspot
