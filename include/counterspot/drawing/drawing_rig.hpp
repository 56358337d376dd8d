#pragma once

#include <array>
#include <string>
#include <vector>

#include "counterspot/drawing/drawing.hpp"
#include "counterspot/drawing/words.hpp"
#include "counterspot/log/quality.hpp"
#include "counterspot/rig/qualification.hpp"
#include "counterspot/rig/rig_work.hpp"
#include "counterspot/rig_model/rig_condition.hpp"

namespace counterspot {

/// A qualification: above, the twelve readings of the small test mass over their mean, by its position, with the band
/// that they must keep to; below, the unbalance reduction ratio at the eleven positions of the travelling mass, with
/// what the rig is said to reach. One curve a plane; a reading beyond is crossed out. 240 × 190 mm.
Picture qualification_picture(const Qualification& result, const RigClaims& claims,
                              const std::vector<std::string>& planes, const Words& words = english());

/// A rig over its jobs: what each job says of the dynamic stiffness of each pedestal, over what all of them say, in
/// percent, oldest first, with the control limits. Open markers: jobs set aside. 240 × 140 mm.
Picture rig_model_picture(const RigCondition& condition, const std::array<std::string, 2>& pedestals,
                          const Words& words = english());

/// A rig's coefficients over its jobs: how large they were and how they were turned, against those of the first jobs,
/// with the band of a rig that has not changed; jobs beyond it are crossed out. A row for each sensor, 240 mm wide.
Picture coefficients_picture(const std::vector<CoefficientTrend>& trends, const Words& words = english());

/// A rig over its daily checks, oldest first: what each sensor reads of the known masses over what it should, and how
/// far the bare reference shaft's reading had moved, with what is allowed; checks that failed are crossed out. 240 ×
/// 150 mm.
Picture rig_health_picture(const std::vector<RigCheck>& checks, const std::array<std::string, 2>& sensors,
                           const std::array<std::string, 2>& planes, const Words& words = english());
/// The same, named as the rig and its reference shaft are.
Picture rig_health_picture(const std::vector<RigCheck>& checks, const Rig& rig, const Shaft& reference,
                           const Words& words = english());

}  // namespace counterspot
