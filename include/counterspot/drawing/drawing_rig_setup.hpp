#pragma once

#include "counterspot/drawing/drawing.hpp"
#include "counterspot/drawing/words.hpp"
#include "counterspot/model/rig.hpp"

namespace counterspot {

/// A rig as it is understood: ends, pedestals, sensors and tach with their channels, and the clock as it is seen from
/// the viewing end, with mark and rotation. @param rotation_known else the clock has a question mark. 240 × 120 mm.
Picture rig_picture(const Rig& rig, bool rotation_known, const Words& words = english());

/// What who stands at end A and looks along the shaft towards B sees: its top goes to the left, or to the right.
/// 110 × 90 mm.
Picture top_goes_picture(bool left, const Words& words = english());

}  // namespace counterspot
