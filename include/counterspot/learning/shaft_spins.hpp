#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "counterspot/influence/influence.hpp"
#include "counterspot/model/kept.hpp"

namespace counterspot {

/// The spins of one shaft on one rig, as learning takes them from wherever jobs are kept.
struct ShaftSpins {
  std::string uid;  ///< of the job they were made in
  std::int64_t opened_unix_s = 0;
  Kept<Rig> rig_file;  ///< as they were at the job's opening
  Kept<Shaft> shaft_file;
  std::vector<SpinReading> spins;  ///< those that count, in order, each with all weights that were on
  std::vector<Motion> motions;     ///< one per sensor; empty without a spin

  const Rig& rig() const { return rig_file.value(); }
  const Shaft& shaft() const { return shaft_file.value(); }
};

}  // namespace counterspot
